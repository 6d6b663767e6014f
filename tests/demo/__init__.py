"""Tests of the virtual workshop and of the launcher."""
