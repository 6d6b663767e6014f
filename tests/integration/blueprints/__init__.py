"""The blueprints: whether Home Assistant takes them, and what automations of them do."""
