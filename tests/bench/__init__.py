"""Seconds and memory of each step on one body; run `python -m tests.bench`."""
