"""The record in the hub: what the shop did, by day, week and month, told and handed out.

Its figures are the core's (`shop/record`). The recorder keeps statistics of them on its
own, by the state classes of the totals. Nothing is imported into it: a total holds what
the ledger made up for after a restart, and an imported series would have to be kept in
step with every machine that is renamed, removed or taken up again.
"""
