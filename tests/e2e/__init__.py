"""Tests that start a real Home Assistant process."""
