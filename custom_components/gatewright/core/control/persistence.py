"""What a shop remembers over a restart, as plain data."""

from collections.abc import Mapping
from typing import Any

from ..times import instant_after, time_left
from .alarms import read_alarms, written_alarms
from .enums import Phase
from .shop import ShopControl


def save(shop: ShopControl, now: float) -> dict[str, Any]:
    """Return everything that has to survive, deadlines as the time left in s."""
    sequence = shop.sequence
    return {
        "phase": sequence.phase.value,
        "phase_left": time_left(sequence.phase_until, now),
        "saving_start": sequence.ending.saving_start,
        "early": sequence.origin.early,
        "automatic": sequence.automatic,
        "start_block": sequence.start_block,
        "fire_shutdown": sequence.fire_shutdown,
        "by_hand": sequence.by_hand and not sequence.trying,
        "held_off": sequence.held_off,
        "hand_gates": list(sequence.hand_gates),
        "known": not sequence.adopting,
        "motor": sequence.motor.remember(now),
        "machines": {
            machine_id: run.remember(now)
            for machine_id, run in sequence.machines.items()
        },
        "gates": sequence.gates.remember(now),
        "linked_devices": sequence.linked_devices.remember(now),
        "alarms": written_alarms(shop.alarms, now),
        "ledger": shop.ledger.save(now),
    }


def restore(
    shop: ShopControl,
    data: Mapping[str, Any],
    now: float,
    *,
    elapsed: float | None = None,
) -> None:
    """Take up what `save` described, in a shop that has just begun.

    `elapsed` is the time in s since then where it is known for certain, as after a
    reload in the same process; deadlines then go on. Without it they resume with
    the time that was left, and the spin-down is served whole.
    """
    passed = elapsed or 0.0
    sequence = shop.sequence
    phase = Phase(data["phase"])
    if phase in (Phase.COLLECTING, Phase.SHUTTING_OFF):
        sequence.phase = phase
        sequence.phase_until = instant_after(data["phase_left"], now - passed)
        sequence.ending.saving_start = data["saving_start"]
        # What was switched on since this was written is known from its reading only.
        sequence.origin.resuming = elapsed is None
    sequence.modes.automatic = data["automatic"]
    sequence.modes.start_block = data["start_block"]
    sequence.modes.fire_shutdown = data["fire_shutdown"]
    sequence.by_hand = data["by_hand"]
    sequence.held_off = data["held_off"]
    sequence.hand_gates = tuple(g for g in data["hand_gates"] if g in sequence.gates)
    sequence.adopting = not data["known"]
    sequence.motor.recall(data["motor"], now, passed=passed, known=elapsed is not None)
    sequence.gates.recall(data["gates"], now, passed=passed)
    if sequence.collector_wanted and data.get("early", False):
        # Version 0.1.0 did not write whether its gate was still on its way.
        sequence.origin.early = True
        sequence.gates.resume(data["gates"], now, passed=passed)
    for machine_id, kept in data["machines"].items():
        if (run := sequence.machines.get(machine_id)) is not None:
            run.recall(kept, now, passed=passed)
    sequence.machine_set.watch_all()
    sequence.linked_devices.recall(data["linked_devices"], now, passed=passed)
    shop.alarms.recall(read_alarms(data["alarms"], now - passed))
    shop.ledger.restore(data["ledger"], now)
