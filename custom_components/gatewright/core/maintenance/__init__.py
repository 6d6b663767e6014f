"""Bin, filter, motor and room: what has to be done when."""
