"""Notifies phones of alarms, the bin and the day's summary."""
