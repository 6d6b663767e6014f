"""Everything that turns figures, times and lists into words."""
