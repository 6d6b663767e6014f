"""Tests of Gatewright."""
