"""What entities show and move: one subject per part, one description type per platform."""
