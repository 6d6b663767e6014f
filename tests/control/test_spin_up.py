"""How long the impeller takes, read off the motor's power."""

import pytest

from custom_components.gatewright.core.control.spin_up import SpinUpMeter, spin_up_of


def start(
    spin_up: float, every: float, *, inrush: float = 6000.0, level: float = 1500.0
) -> list[tuple[float, float]]:
    """Return the readings of a start, as a plug that reports `every` s gives them."""
    readings = []
    for number in range(int(25.0 / every)):
        after = (number + 0.5) * every
        readings.append((after, inrush if after < spin_up else level))
    return readings


@pytest.mark.parametrize("spin_up", [1.2, 2.0, 3.3, 6.0])
def test_end_of_the_inrush(spin_up: float) -> None:
    assert spin_up_of(start(spin_up, 0.5)) == pytest.approx(spin_up, abs=0.26)


@pytest.mark.parametrize(
    "readings",
    [
        [],
        # Too seldom to tell.
        start(3.0, 4.0),
        # A plug that averages the inrush away.
        start(3.0, 0.5, inrush=1500.0),
        # It never settles: a gate moved, or the motor struggles.
        [(0.5 * n, 1000.0 + 900.0 * (n % 2)) for n in range(50)],
        # Over before the first reading.
        start(0.2, 0.5),
        [(0.5 * n, 0.0) for n in range(50)],
    ],
)
def test_readings_that_do_not_say(readings: list[tuple[float, float]]) -> None:
    assert spin_up_of(readings) is None


def test_median_of_the_last_starts() -> None:
    meter = SpinUpMeter()
    for number, spin_up in enumerate((2.0, 4.0, 2.2)):
        began = 100.0 * number
        meter.started(began)
        for after, watts in start(spin_up, 0.2):
            meter.read(watts, began + after)
    assert meter.measured == pytest.approx(2.2, abs=0.15)
    assert SpinUpMeter(meter.kept).measured == meter.measured


def test_start_that_is_broken_off_measures_nothing() -> None:
    meter = SpinUpMeter()
    meter.read(6000.0, 0.0)
    meter.started(1.0)
    meter.read(6000.0, 2.0)
    meter.stopped()
    for after, watts in start(2.0, 0.5):
        meter.read(watts, 10.0 + after)
    assert meter.measured is None
