"""Gatewright runs a workshop's dust extraction."""
