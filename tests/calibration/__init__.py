"""Tests of calibrated settings: levels, pauses, and the simulation."""
