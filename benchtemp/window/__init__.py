"""Everything that knows Qt."""
