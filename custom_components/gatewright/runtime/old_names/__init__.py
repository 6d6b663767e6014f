"""The names that automations saw in version 0.1.0; they work until version 0.3.

`table` has all of them, `shown` decides which names a system's entities and events
show, `migration` and `files` convert what 0.1.0 has written, `actions` accepts calls by
old names, `search` and `places` find remaining uses, `notice` reports them.
"""
