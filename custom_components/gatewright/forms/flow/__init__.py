"""The forms: setting a system up, changing it, and its parts."""
