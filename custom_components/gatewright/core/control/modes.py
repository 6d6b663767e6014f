"""What a person has set, and what is known of how the collector's run began and ends."""

from dataclasses import dataclass


@dataclass(slots=True)
class Modes:
    """What is allowed: to serve running machines, to start at all, to run at all."""

    automatic: bool = True
    start_block: bool = False
    fire_shutdown: bool = False


@dataclass(slots=True)
class RunOrigin:
    """How the collector's run began, as far as that matters until it is explained.

    `found_running`: it was on already, and it is not known yet whether a machine runs.
    `unprompted`: nobody had switched it on. `resuming`: it goes on from an earlier process
    and not every machine has been heard of yet: one that was not written down may run,
    so that neither the motor is stopped nor a gate closed. `early`: it was started while its
    gate was still on its way.
    """

    found_running: bool = False
    unprompted: bool = False
    resuming: bool = False
    early: bool = False


@dataclass(slots=True)
class RunEnd:
    """How the collector's run comes to its end.

    `asked`: a person stops it, and nothing prolongs it. `saving_start`: it goes on because the
    motor has no start left for now.
    """

    asked: bool = False
    saving_start: bool = False
