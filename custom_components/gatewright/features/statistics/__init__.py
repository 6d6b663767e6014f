"""Statistics by day, week and month: entities, events, actions and downloads.

The figures are the core's (`core/statistics`). The recorder makes its own statistics
from the totals' state classes. Nothing is imported into it: a total includes what the
ledger made up for after a restart, and an imported series would have to follow every
machine that is renamed, removed or taken over.
"""
