"""The bench: a simulated tempering machine behind the same ports as a real one."""
