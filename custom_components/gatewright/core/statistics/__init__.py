"""What the shop did, kept and summed up."""
