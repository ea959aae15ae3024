"""Virtual machines with hidden faults: sealed cases to plan shots for, and to diagnose."""
