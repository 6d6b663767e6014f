"""Turns figures, times and lists into words."""
