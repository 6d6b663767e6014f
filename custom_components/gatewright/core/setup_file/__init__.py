"""The set-up of a system as one file (docs/setup-file.md): reading, writing, comparing."""
