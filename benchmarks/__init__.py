"""How fast it is; see README.md."""
