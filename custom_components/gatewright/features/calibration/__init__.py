"""What the hub finds out about its machines from what was recorded of them."""
