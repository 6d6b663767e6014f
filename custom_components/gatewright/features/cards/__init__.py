"""What the dashboard's cards are fed with."""
