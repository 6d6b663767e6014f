"""The set-up of a system as a file: export, a look at what importing it would do, import."""
