"""The shop and what it should do next: plain Python, no Home Assistant, no clock of its own."""
