"""What each feature adds to a system, one folder each."""
