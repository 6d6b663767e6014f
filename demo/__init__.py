"""The demo: a virtual workshop, and a launcher for its Home Assistant."""
