"""The forms that set up and change a system and its parts."""
