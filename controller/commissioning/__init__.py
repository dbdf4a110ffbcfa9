"""From wired parts to a machine that may heat: each step shown once, dated, and kept in a file."""
