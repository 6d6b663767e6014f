"""Thresholds and waiting times from the history of a reading."""
