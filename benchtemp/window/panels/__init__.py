"""The panels beside the trace: what is entered, and how it stands against the recipe."""
