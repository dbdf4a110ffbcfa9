"""What people see of a run: summary, picture, progress."""
