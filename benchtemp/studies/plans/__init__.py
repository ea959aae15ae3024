"""Test plans: which shots to pull on a machine, in which order, and where a plan stands."""
