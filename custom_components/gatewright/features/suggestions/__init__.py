"""Suggestions for the owner; nothing changes without the owner's consent."""
