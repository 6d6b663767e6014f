"""The drawing of a shop: plain Python, without Home Assistant."""
