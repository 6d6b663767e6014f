"""What the plugs' energy counters add up to, whatever the plugs do."""

import json
import math

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.maintenance.energy import Energy, MachineCounters
from custom_components.gatewright.core.units import JOULES_PER_KWH

SAW, PLUG = "saw", "sensor.saw_energy"


def counted(*kilowatt_hours: float | None, price: float | None = None) -> Energy:
    """Return what readings of one counter add [J]."""
    counters = MachineCounters()
    counters.price = price
    for reading in kilowatt_hours:
        joules = None if reading is None else reading * JOULES_PER_KWH
        counters.read(SAW, PLUG, joules)
    return counters.drain().get(SAW, Energy(0.0, 0.0))


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        # An earlier count isn't the machine's of today.
        ((812.0,), 0.0),
        ((812.0, 812.4, 813.0), 1.0),
        # Offline for a while, it kept counting.
        ((812.0, None, 813.5), 1.5),
        ((1.0, math.nan, -3.0, 2.0), 1.0),
        # Set back, at midnight or by hand.
        ((1.0, 1.2, 0.0, 0.3), 0.5),
        ((1.0, 1.2, 0.0, 0.3, 1.2, 1.5), 1.7),
        # A step back of less than a tenth is noise.
        ((10.0, 9.99, 10.0, 10.5), 0.5),
        # Zero for a moment: the earlier count isn't added again.
        ((500.0, 0.0, 500.1), 0.1),
        ((500.0, 0.0, 0.0, 500.1, 500.3), 0.3),
    ],
)
def test_what_a_counter_adds(
    readings: tuple[float | None, ...], expected: float
) -> None:
    assert counted(*readings).used == pytest.approx(expected * JOULES_PER_KWH)


def test_what_it_costs() -> None:
    assert counted(1.0, 3.0, price=0.31).cost == pytest.approx(0.62)
    assert counted(1.0, 3.0).cost == 0


def test_a_drained_counter_continues() -> None:
    counters = MachineCounters()
    counters.read(SAW, PLUG, 0.0)
    counters.read(SAW, PLUG, 5.0)
    assert counters.drain() == {SAW: Energy(5.0, 0.0)}
    assert counters.drain() == {}
    counters.read(SAW, PLUG, 6.0)
    assert counters.drain()[SAW].used == 1.0


def test_another_plug_begins_at_what_it_shows() -> None:
    counters = MachineCounters()
    counters.read(SAW, PLUG, 5.0)
    counters.read(SAW, "sensor.other", 900.0)
    counters.read(SAW, "sensor.other", 901.0)
    assert counters.drain()[SAW].used == 1.0


def test_a_restart_counts_what_was_used_meanwhile() -> None:
    before = MachineCounters()
    before.read(SAW, PLUG, 5.0)
    before.read(SAW, PLUG, 5.5)
    after = MachineCounters()
    after.restore(json.loads(json.dumps(before.save())))
    after.adopt(SAW, "saw_2")
    after.read("saw_2", PLUG, 8.0)
    assert after.drain() == {"saw_2": Energy(3.0, 0.0)}
    assert after.drain() == {}


@given(
    st.lists(st.floats(0, 50), max_size=30),
    st.sets(st.integers(0, 29)),
)
def test_moments_at_zero_change_nothing(steps: list[float], zeros: set[int]) -> None:
    """A counter that only grows adds its growth, with or without moments at zero."""
    plain, disturbed = MachineCounters(), MachineCounters()
    total = 100.0
    for counters in (plain, disturbed):
        counters.read(SAW, PLUG, total)
    for number, step in enumerate(steps):
        total += step
        if number in zeros:
            disturbed.read(SAW, PLUG, 0.0)
        for counters in (plain, disturbed):
            counters.read(SAW, PLUG, total)
    none = Energy(0.0, 0.0)
    grown = plain.drain().get(SAW, none).used
    assert grown == pytest.approx(total - 100.0)
    assert disturbed.drain().get(SAW, none).used == pytest.approx(grown)
