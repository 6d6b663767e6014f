"""Tests of the rules that the project sets itself."""
