"""Maintenance of bin, filter, collector and room: what is due when."""
