"""Statistics that studies rest on: intervals, charts, lines, curves, groups. Quantiles come from scipy."""
