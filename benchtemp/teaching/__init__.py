"""Learning to read a trace: exercises, what a trainee answered, machines with a hidden fault."""
