"""Phones that are told of alarms, of the bin and of the day."""
