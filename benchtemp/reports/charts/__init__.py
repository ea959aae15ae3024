"""Charts drawn as vector graphics from the plain charts of studies and shots."""
