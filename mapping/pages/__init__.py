"""Pages of zones: adding one of any kind, and many from a table."""
