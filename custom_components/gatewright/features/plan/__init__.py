"""The plan of a system in Home Assistant: its draft, what is computed of it, applying it."""
