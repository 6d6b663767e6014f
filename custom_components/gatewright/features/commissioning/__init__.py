"""The system check in the hub: carried out, kept, told, set."""
