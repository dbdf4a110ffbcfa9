"""The pure core: no clock, no I/O, no threads. One tick, from readings to commands."""
