"""The logbook: recordings, shots, probes and plans as files."""
