"""The plan of a batch: amounts, water, hours and what the room forbids, computed beforehand.

Responsible for computing alone; not for reading files, options or clocks (files, commands), nor for
the run itself (core). It knows the core and nothing above it.
"""
