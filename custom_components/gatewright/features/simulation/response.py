"""A simulation as plain data: an action's response and a card's drawing."""

from collections import Counter
from collections.abc import Callable, Container, Mapping, Sequence
from typing import Any

from ...core.calibration.history import Interval
from ...core.config import COLLECTOR
from ...core.simulation.actual import difference
from ...core.simulation.simulation import Figures
from ...core.units import JOULES_PER_KWH, percent
from .manager import SimulatedWeek

type Names = Mapping[str, str]

type Sees = Callable[[str], bool]
"""Whether the user may see a part."""


def answer_of(
    found: SimulatedWeek, names: Names, sees: Sees = lambda _: True
) -> dict[str, Any]:
    """Return the figures: times in s, energy in kWh, shares in percent.

    `happened` and `difference` are None if the collector wasn't recorded. Only machines
    that the user `sees` are included.
    """
    would = found.would.figures
    hidden = {name for part, name in names.items() if not sees(part)}
    hidden -= {name for part, name in names.items() if sees(part)}
    return {
        "start": found.begins.isoformat(),
        "end": found.ends.isoformat(),
        "readings": found.records.count,
        "not_recorded": [
            _name(names, part) for part in found.records.unrecorded if sees(part)
        ],
        "simulated": {
            **_figures(would, names, sees),
            "times_to_air": _times_to_air(found, names, sees),
            "alarms": _alarms(would_alarms(found, names), hidden),
        },
        "happened": None
        if found.was is None
        else {
            **_figures(found.was, names, sees),
            "alarms": _alarms(found.records.alarms, hidden),
        },
        "difference": None if found.was is None else _difference(found.was, would),
    }


def day_of(found: SimulatedWeek) -> dict[str, Any]:
    """Return the simulated states over time, for a chart; instants in s since 1970."""
    would = found.would
    return {
        "begins": round(found.begins.timestamp(), 3),
        "ends": round(found.ends.timestamp(), 3),
        "collector": _spans(would.collector),
        "machines": {
            part: {"ran": _spans(ran), "aired": _spans(would.collected[part])}
            for part, ran in would.ran.items()
            if part not in found.records.unrecorded
        },
    }


def would_alarms(found: SimulatedWeek, names: Names) -> Counter[tuple[str, str]]:
    """Return how often each alarm would have been raised, by kind and part's name."""
    return Counter(
        (change.condition.kind.value, _name(names, change.condition.part))
        for change in found.would.alarms
        if change.raised
    )


def _figures(figures: Figures, names: Names, sees: Sees) -> dict[str, Any]:
    energy = figures.energy
    return {
        "starts": figures.starts,
        "on_time": round(figures.on_time, 1),
        "energy": None if energy is None else round(energy / JOULES_PER_KWH, 3),
        "run_time": round(figures.run_time, 1),
        "collected_share": percent(figures.collected_share),
        "machines": [
            {
                "machine": _name(names, part),
                "runs": of.runs,
                "cuts": of.cuts,
                "run_time": round(of.run_time, 1),
                "collecting_time": round(of.collecting_time, 1),
                "collected_share": percent(of.collected_share),
                "time_to_air": _to_a_tenth(of.time_to_air),
            }
            for part, of in figures.machines.items()
            if sees(part)
        ],
    }


def _times_to_air(
    found: SimulatedWeek, names: Names, sees: Sees
) -> list[dict[str, Any]]:
    """Return what limits each machine's time to air."""
    return [
        {
            "machine": _name(names, part),
            "at_best": _to_a_tenth(timing.chain.at_best),
            "limited_by": timing.judged.limit.value,
            "reporting_interval": _to_a_tenth(timing.chain.reporting),
        }
        for part, timing in found.would.times_to_air.items()
        if sees(part)
    ]


def _to_a_tenth(time: float | None) -> float | None:
    return None if time is None else round(time, 1)


def _difference(was: Figures, would: Figures) -> dict[str, Any]:
    less = difference(was, would)
    return {
        "starts": less.starts,
        "on_time": round(less.on_time, 1),
        "energy": None
        if less.energy is None
        else round(less.energy / JOULES_PER_KWH, 3),
        "collected_share": None
        if less.collected_share is None
        else round(100 * less.collected_share, 1),
    }


def _alarms(
    raised: Counter[tuple[str, str]] | None, hidden: Container[str]
) -> list[dict[str, Any]] | None:
    if raised is None:
        return None
    return [
        {"alarm": kind, "part": part, "times": times}
        for (kind, part), times in sorted(raised.items())
        if part not in hidden
    ]


def _name(names: Names, part: str) -> str:
    return names.get(part, part)


def _spans(found: Sequence[Interval]) -> list[list[float]]:
    return [[round(begins, 3), round(ends, 3)] for begins, ends in found]


def names_of(found: SimulatedWeek) -> dict[str, str]:
    """Return the names of all parts of a simulated system."""
    system = found.layout.system
    return {
        COLLECTOR: system.collector.name,
        **{part: plan.name for part, plan in found.layout.plans.items()},
        **{gate.gate_id: gate.name for gate in system.gates},
        **{
            linked_device.linked_device_id: linked_device.name
            for linked_device in system.linked_devices
        },
    }
