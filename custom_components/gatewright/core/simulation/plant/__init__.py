"""One simulated plant, for simulation, shadow, demo and tests.

Slides that take their time (`slide`), relays and what they report (`relay`), a motor with
its impeller (`motor`), and actuators that take commands and report, well or badly
(`actuators`). Nothing here has a clock: every call is given `now`.
"""
