"""Pages of the crew's work: field sheets, runs, flaws, and the generic page of any action."""
