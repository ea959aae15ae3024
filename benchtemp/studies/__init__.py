"""What a set of shots says about a machine."""
