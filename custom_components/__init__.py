"""Custom integrations of this repository."""
