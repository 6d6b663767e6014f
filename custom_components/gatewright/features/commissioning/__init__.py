"""The walk round the shop in the hub: carried out, kept, told, set."""
