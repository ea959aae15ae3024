"""Probes: type K, reference temperatures, calibration, uncertainty, response time."""
