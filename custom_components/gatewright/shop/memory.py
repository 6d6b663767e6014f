"""What a shop remembers over a restart, as plain data."""

from collections.abc import Mapping
from typing import Any

from .alarms import AlarmKind, Condition
from .machines import MachinePhase
from .shop import Shop
from .words import Phase


def save(shop: Shop, now: float) -> dict[str, Any]:
    """Return everything that has to survive, deadlines as the time left in s."""
    sequence = shop.sequence
    starts, stopped = sequence.motor.duty.ages(now)
    return {
        "phase": sequence.phase.value,
        "phase_left": _left(sequence.phase_until, now),
        "automatic": sequence.automatic,
        "lockout": sequence.lockout,
        "emergency": sequence.emergency,
        "by_hand": sequence.by_hand,
        "held_off": sequence.held_off,
        "hand_gates": list(sequence.hand_gates),
        "motor": {
            "known": not sequence.adopting,
            "reported": sequence.motor.actuator.reported,
            "off_age": sequence.motor.off_age(now),
            "starts": starts,
            "stopped": stopped,
        },
        "machines": {
            machine_id: {
                "phase": run.phase.value,
                "step": run.step,
                "left": _left(run.until, now),
                "running": run.sensor is not None and run.sensor.running,
                "lost": run.sensor is not None and run.sensor.lost,
                "attached": run.attached,
                "requested": run.requested,
                "request_left": _left(run.request_until, now),
            }
            for machine_id, run in sequence.machines.items()
        },
        "gates": {
            gate.gate_id: {
                "open": actuator.reported,
                "wanted": actuator.want is True,
            }
            for gate in sequence.system.gates
            if (actuator := sequence.gates.actuator(gate.gate_id)) is not None
        },
        "alarms": [[kind.value, part] for kind, part in shop.alarms.standing],
        "ledger": shop.ledger.save(now),
    }


def restore(
    shop: Shop, data: Mapping[str, Any], now: float, *, elapsed: float | None = None
) -> None:
    """Take up what `save` described, in a shop that has just begun.

    `elapsed` is the time in s since then where it is known for certain, as after a
    reload in the same process; deadlines then go on. Without it they resume with
    the time that was left, and the coast is served whole.
    """
    passed = elapsed or 0.0
    sequence = shop.sequence
    phase = Phase(data["phase"])
    if phase in (Phase.COLLECTING, Phase.RUN_ON):
        sequence.phase = phase
    left = data["phase_left"]
    sequence.phase_until = None if left is None else now + max(0.0, left - passed)
    sequence.automatic = data["automatic"]
    sequence.lockout = data["lockout"]
    sequence.emergency = data["emergency"]
    sequence.by_hand = data["by_hand"]
    sequence.held_off = data["held_off"]
    sequence.hand_gates = tuple(g for g in data["hand_gates"] if g in sequence.gates)
    motor = data["motor"]
    sequence.adopting = not motor["known"]
    off_age = motor["off_age"] if elapsed is not None else None
    sequence.motor.recall(
        want=sequence.collector_wanted if motor["known"] else None,
        reported=motor["reported"],
        off_since=None if off_age is None else now - off_age - passed,
    )
    stopped = motor["stopped"]
    sequence.motor.duty.restore(
        [age + passed for age in motor["starts"]],
        None if stopped is None else stopped + passed,
        now,
    )
    for gate_id, gate in data["gates"].items():
        sequence.gates.recall(gate_id, opened=gate["open"], wanted=gate["wanted"])
    for machine_id, kept in data["machines"].items():
        if (run := sequence.machines.get(machine_id)) is None:
            continue
        run.attached = kept["attached"]
        if run.sensor is not None:
            run.sensor.running = kept["running"]
            run.sensor.lost = kept["lost"]
        run.restore(
            MachinePhase(kept["phase"]),
            kept["step"],
            _minus(kept["left"], passed),
            now,
        )
        if kept["requested"]:
            run.request(now, _minus(kept["request_left"], passed))
    shop.alarms.recall(
        (
            Condition(AlarmKind(kind), part)
            for kind, part in data["alarms"]
            if kind in AlarmKind
        ),
        now,
    )
    shop.ledger.restore(data["ledger"], now)


def _left(instant: float | None, now: float) -> float | None:
    return None if instant is None else max(0.0, instant - now)


def _minus(left: float | None, passed: float) -> float | None:
    return None if left is None else max(0.0, left - passed)
