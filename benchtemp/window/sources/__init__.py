"""Choosing where readings come from, and steering the source that runs."""
