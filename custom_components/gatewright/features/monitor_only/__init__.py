"""Monitor-only mode: everything is sensed, nothing moves, and the results are shown."""
