"""What Gatewright suggests; nothing of it is done but on the owner's word."""
