"""Checking probes from a terminal: what is wished for, reading, asking, keeping."""
