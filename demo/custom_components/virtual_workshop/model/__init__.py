"""The virtual workshop as a model: no Home Assistant, no files, and no clock of its own."""
