"""A run on a terminal: the same facts as on a page, live or from a growing record."""
