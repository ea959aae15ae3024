"""The Findings page: which study, of which shots, and what comes of it."""
