"""The batch book: what a cook keeps of each run, beside its record."""
