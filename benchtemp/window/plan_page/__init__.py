"""The Plan page: test plans, new ones, and where they stand."""
