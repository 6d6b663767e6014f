"""The names that automations saw in version 0.1.0: they go on working until version 0.3.

`table` has all of them, `shown` decides which names the entities and events of a system
show, `migration` and `files` take up what 0.1.0 has written, `actions` takes calls by
old names, `search` and `places` find where they are still used, `notice` says so.
"""
