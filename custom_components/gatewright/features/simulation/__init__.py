"""Plays recorded time through the core: what would have been, beside what was."""
