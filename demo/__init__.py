"""The demo: a virtual workshop, and a launcher for the Home Assistant that it stands in."""
