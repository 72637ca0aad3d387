"""Pure functions from a table to a chart."""
