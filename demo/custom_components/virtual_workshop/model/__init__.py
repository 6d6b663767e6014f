"""The model of the virtual workshop: no Home Assistant, no files, no clock of its own."""
