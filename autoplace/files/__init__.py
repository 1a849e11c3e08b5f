"""Skeletons as files of open formats."""
