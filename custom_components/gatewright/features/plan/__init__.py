"""The plan of a system: its draft, its figures, and applying it."""
