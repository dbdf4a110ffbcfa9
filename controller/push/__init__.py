"""Pushes to a locked phone: what to tell, kept on disk, and sent once."""
