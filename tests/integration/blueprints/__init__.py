"""The blueprints: whether Home Assistant accepts them, and what their automations do."""
