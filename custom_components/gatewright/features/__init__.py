"""One folder per feature: what it shows, asks and does in Home Assistant."""
