"""Watching only: everything is heard, nothing moves, and what would be is told."""
