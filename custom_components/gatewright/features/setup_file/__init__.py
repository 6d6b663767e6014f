"""The set-up of a system as a file: export, dry run, import."""
