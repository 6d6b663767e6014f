"""Settings that find themselves: thresholds, pauses and the simulation."""
