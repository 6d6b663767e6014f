"""Straight motion, bouncing reports and relays."""

import pytest

from custom_components.gatewright.core.simulation.plant.motion import Ramp
from custom_components.gatewright.core.simulation.plant.relay import Bounce, Relay

from .yard import NOON


def test_ramp_moves_at_its_rate_and_stays_at_its_target() -> None:
    ramp = Ramp(value=0.2, since=NOON)
    ramp.go(NOON, 1.0, 0.25)
    assert ramp.at(NOON) == 0.2
    assert ramp.at(NOON + 2) == pytest.approx(0.7)
    assert ramp.at(NOON + 3.2) == 1.0
    assert ramp.at(NOON + 99) == 1.0
    # An instant before it set out is not extrapolated.
    assert ramp.at(NOON - 5) == 0.2


def test_ramp_turns_around_from_where_it_is() -> None:
    ramp = Ramp()
    ramp.go(NOON, 1.0, 0.5)
    ramp.go(NOON + 1, 0.0, 0.25)
    assert ramp.at(NOON + 1) == pytest.approx(0.5)
    assert ramp.at(NOON + 2) == pytest.approx(0.25)
    assert ramp.at(NOON + 3) == 0.0


def test_ramp_halts() -> None:
    ramp = Ramp()
    ramp.go(NOON, 1.0, 0.5)
    ramp.halt(NOON + 1)
    assert ramp.at(NOON + 50) == pytest.approx(0.5)
    assert ramp.next_crossing(NOON + 1, (0.7,)) is None


def test_ramp_meets_its_marks_in_order_and_each_once() -> None:
    ramp = Ramp()
    ramp.go(NOON, 1.0, 0.1)
    met = []
    after = NOON
    while (instant := ramp.next_crossing(after, (0.9, 0.25, 1.7))) is not None:
        met.append(instant - NOON)
        after = instant
    assert met == [pytest.approx(2.5), pytest.approx(9), pytest.approx(10)]


def test_ramp_has_arrived_when_it_arrives() -> None:
    """A float just short of the target must not look like motion forever."""
    ramp = Ramp()
    for rate in (1 / 3, 1 / 7, 1 / 9.3, 1 / 1.1):
        ramp.value, ramp.since = 0.0, NOON
        ramp.go(NOON, 1.0, rate)
        arrival = ramp.next_crossing(NOON, ())
        assert arrival is not None
        assert ramp.at(arrival) == 1.0


def test_bounce_tells_new_old_and_then_the_truth() -> None:
    bounce = Bounce()
    assert bounce.told(NOON) is None
    bounce.start(NOON, 1.0, 0.0)
    assert bounce.told(NOON) is None
    assert bounce.told(NOON + 0.2) == 1.0
    assert bounce.told(NOON + 1.5) == 0.0
    assert bounce.told(NOON + 6) is None
    bounce.clear()
    assert bounce.told(NOON + 0.2) is None


def test_relay_follows_the_newest_command_only() -> None:
    relay = Relay()
    relay.command(NOON, on=True, latency=0.3)
    relay.command(NOON + 0.1, on=False, latency=0.3)
    assert relay.settle(NOON + 0.3) is False
    assert relay.settle(NOON + 1) is False
    assert not relay.closed


def test_relay_switches_after_its_time() -> None:
    relay = Relay()
    relay.command(NOON, on=True, latency=0.3)
    assert relay.next_event(NOON) == pytest.approx(NOON + 0.3)
    assert relay.settle(NOON + 0.2) is False
    assert relay.settle(NOON + 0.3) is True
    assert relay.reported(NOON + 0.3)
    assert relay.next_event(NOON + 0.3) is None
