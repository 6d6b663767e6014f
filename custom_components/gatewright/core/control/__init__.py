"""What the shop is and what it should do next: pure, without Home Assistant or a clock."""
