"""Shots: live stages, the reading of a whole trace, the recipe, the result."""
