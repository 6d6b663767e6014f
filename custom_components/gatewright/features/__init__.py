"""What each feature adds to a system, a folder each."""
