"""What Gatewright knows: plain Python, without Home Assistant, I/O or a clock."""
