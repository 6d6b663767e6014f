"""The data that feeds the dashboard's cards."""
