"""What the shop is and what it should do next: pure, no hub, no clock of its own."""
