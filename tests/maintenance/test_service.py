"""Service intervals, longest run, energy."""

from datetime import datetime, timedelta
import json
import math
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.maintenance.config import ServiceInterval
from custom_components.gatewright.core.maintenance.energy import EnergyMeter
from custom_components.gatewright.core.maintenance.motor_service import (
    MotorService,
    ServiceState,
)
from custom_components.gatewright.core.units import JOULES_PER_KWH

HOUR = 3600.0
WHEN = datetime(2026, 3, 2, 18, tzinfo=ZoneInfo("Europe/Berlin"))
BEARINGS = ServiceInterval(service_id="b", name="Bearings", after=500 * HOUR, days=365)
SWITCH = ServiceInterval(service_id="s", name="Contactor", starts=1000)
BAGS = ServiceInterval(service_id="d", name="Bags", days=30)


def state(care: MotorService, service_id: str, when: datetime) -> ServiceState:
    (found,) = (s for s in care.states(when) if s.service_id == service_id)
    return found


def test_what_is_used_up_first_counts() -> None:
    care = MotorService((BEARINGS, SWITCH))
    care.run(100 * HOUR, 250, WHEN)
    bearings = state(care, "b", WHEN + timedelta(days=73))
    assert bearings.used == pytest.approx(0.2)
    assert bearings.left == 400 * HOUR
    assert bearings.days_left == 365 - 73
    assert bearings.starts_left is None
    later = state(care, "b", WHEN + timedelta(days=400))
    assert later.due
    assert later.days_left == 0
    switch = state(care, "s", WHEN)
    assert switch.used == 0.25
    assert (switch.left, switch.starts_left, switch.days_left) == (None, 750, None)
    care.run(0.0, 800, WHEN)
    assert state(care, "s", WHEN).due
    assert state(care, "s", WHEN).starts_left == 0


def test_reset_by_the_owner() -> None:
    care = MotorService((BEARINGS, BAGS))
    care.run(600 * HOUR, 1, WHEN)
    assert state(care, "b", WHEN).due
    assert state(care, "b", WHEN).left == 0
    care.reset("b", WHEN + timedelta(days=1))
    assert state(care, "b", WHEN + timedelta(days=1)).used == 0
    assert care.reset_at("b", WHEN) == WHEN + timedelta(days=1)
    assert care.reset_at("nothing", WHEN) is None
    with pytest.raises(KeyError):
        care.reset("nothing", WHEN)


def test_days_are_days_of_the_calendar() -> None:
    """Thirty days with a change of the clock in them are thirty days."""
    care = MotorService((BAGS,))
    late = datetime(2026, 3, 15, 23, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    assert state(care, "d", late).days_left == 30
    early = datetime(2026, 4, 14, 0, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    assert state(care, "d", early).days_left == 0
    assert state(care, "d", early - timedelta(hours=1)).days_left == 1
    # A clock that was wrong at first doesn't count days.
    assert state(care, "d", late - timedelta(days=90)).days_left == 30


def test_longest_run() -> None:
    care = MotorService(())
    for seconds, starts in ((0.0, 1), (300.0, 0), (400.0, 0)):
        care.run(seconds, starts, WHEN)
    assert care.longest_run == 700.0
    care.stopped()
    care.run(0.0, 1, WHEN)
    care.run(500.0, 0, WHEN)
    assert care.this_run == 500.0
    assert care.longest_run == 700.0
    # A new start is a new run, even without a seen stop.
    care.run(100.0, 1, WHEN)
    care.run(650.0, 0, WHEN)
    assert care.longest_run == 700.0


def test_care_survives_a_restart() -> None:
    care = MotorService((BEARINGS, SWITCH, BAGS))
    care.run(100 * HOUR, 250, WHEN)
    care.reset("d", WHEN)
    again = MotorService((BEARINGS, SWITCH, BAGS))
    again.restore(json.loads(json.dumps(care.save())))
    when = WHEN + timedelta(days=9)
    assert again.states(when) == care.states(when)
    assert again.longest_run == care.longest_run
    again.restore({})
    assert again.longest_run == 0


def test_readings_hold_until_the_next() -> None:
    """A morning at 2 W, then half an hour at 1500 W: no straight line between them."""
    meter = EnergyMeter()
    meter.read(2.0, 0.0)
    meter.read(1500.0, 4 * HOUR)
    meter.read(2.0, 4.5 * HOUR)
    energy, cost = meter.drain(4.5 * HOUR)
    assert energy / JOULES_PER_KWH == pytest.approx(0.008 + 0.75)
    assert cost == 0
    assert meter.drain(4.5 * HOUR) == (0.0, 0.0)


def test_reading_that_is_gone_counts_nothing() -> None:
    meter = EnergyMeter()
    for now, watts in enumerate((1000.0, None, 1000.0, math.nan, -1000.0, math.inf)):
        meter.read(watts, 10.0 * now)
    assert meter.drain(1000.0)[0] == 3 * 10_000.0


def test_price_changes_with_the_hour() -> None:
    meter = EnergyMeter()
    meter.read(1000.0, 0.0)
    meter.set_price(0.30, HOUR)
    meter.set_price(0.10, 2 * HOUR)
    meter.set_price(None, 4 * HOUR)
    energy, cost = meter.drain(5 * HOUR)
    assert energy == 5 * JOULES_PER_KWH
    assert cost == pytest.approx(0.30 + 2 * 0.10)


@given(
    st.lists(
        st.tuples(st.floats(0, 5000), st.floats(0, 3000), st.booleans()), max_size=30
    )
)
def test_energy_does_not_depend_on_how_often_one_looks(
    readings: list[tuple[float, float, bool]],
) -> None:
    meter, often = EnergyMeter(), EnergyMeter()
    now = drained = 0.0
    for passed, watts, look in readings:
        if look:
            drained += often.drain(now + passed / 2)[0]
        now += passed
        meter.read(watts, now)
        often.read(watts, now)
    drained += often.drain(now)[0]
    assert drained == pytest.approx(meter.drain(now)[0], rel=1e-9, abs=1e-6)


def test_nothing_passes_where_the_clock_stands() -> None:
    meter = EnergyMeter()
    meter.read(1000.0, 10.0)
    assert meter.drain(5.0) == (0.0, 0.0)
