"""Hands and eyes fitted anew in a skeleton that there is, and hands that come alone."""
