"""The record of a run: one append-only file, from which everything else is derived."""
