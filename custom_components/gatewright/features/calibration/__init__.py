"""Finds machines' levels and times from recorded readings."""
