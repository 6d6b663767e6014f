"""Bin, filter, collector and room in the hub: what has to be looked after when."""
