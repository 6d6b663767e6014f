"""A guided system check: what to try next, what the answer means, what was found.

`system_check` takes the parts one after the other: gates with the collector off (`gate_check`,
judged by `verdict`), machines (`machine_check`), the collector (`collector_check`). Each
check is a script that yields what is to be done or asked and is sent what was seen.
`plant_access` is all that a check may do with a sequence; whoever runs the check carries its
tasks out through it and through the drivers of the shop.
"""
