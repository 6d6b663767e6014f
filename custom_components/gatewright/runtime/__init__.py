"""Where the core meets Home Assistant's states, services and clock."""
