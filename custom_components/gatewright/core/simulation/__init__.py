"""Recorded days through the same core."""
