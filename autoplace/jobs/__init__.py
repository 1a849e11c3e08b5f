"""Whole jobs, from files to files: what each command does, without arguments and printing."""
