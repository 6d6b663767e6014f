"""The blueprints: whether the hub takes them, and what automations of them do."""
