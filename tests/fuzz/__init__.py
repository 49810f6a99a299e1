"""Fuzzing of what reads texts that others wrote: `python -m tests.fuzz TARGET --seconds N`."""
