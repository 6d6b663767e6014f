"""A port that is too small is reported, with a size that would do."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.airflow import (
    AirflowError,
    Network,
    PortLimit,
    port_limit,
)
from custom_components.gatewright.core.airflow.units import CFM, FPM, INCH, INCH_WATER
from tests.airflow.reference_shop import reference_shop


def limit(cfm: float, inches: float = 4.0, **changes: object) -> PortLimit | None:
    """Return the finding about the saw's port at a required flow."""
    system = reference_shop(**changes)  # type: ignore[arg-type]
    pickups = tuple(
        replace(
            p,
            required=cfm * CFM,
            pipes=(replace(p.pipes[0], diameter=inches * INCH), *p.pipes[1:]),
        )
        if p.id == "table_saw"
        else p
        for p in system.pickups
    )
    return port_limit(Network(replace(system, pickups=pickups)), "table_saw")


@pytest.mark.parametrize(
    ("cfm", "velocity", "larger", "count"),
    # A 6 in port at 4,500 ft/min takes 884 cfm, a 4 in one 393.
    [(700, 8021, 6, 2), (785, 8995, 6, 2), (1100, 12605, 7, 3)],
)
def test_one_four_inch_port_cannot(
    cfm: float, velocity: float, larger: float, count: int
) -> None:
    """700 or 785 cfm through one 4 in port is 8,000 to 9,000 ft/min."""
    found = limit(cfm)
    assert found is not None
    assert found.velocity / FPM == pytest.approx(velocity, rel=1e-3)
    assert found.narrowest == pytest.approx(4 * INCH)
    assert found.larger == pytest.approx(larger * INCH)
    assert found.count == count
    # (1 + 1.0) velocity pressures, 4.0 in. w.g. each at 8,021 ft/min.
    pressure = 2.0 * (velocity / 4005) ** 2
    assert found.suction / INCH_WATER == pytest.approx(pressure, rel=0.01)


def test_a_port_that_can() -> None:
    for cfm, inches in ((350, 4), (500, 4), (700, 6), (0, 4)):
        assert limit(cfm, inches) is None


def test_a_fan_that_could_not_with_nothing_in_the_way() -> None:
    weak = reference_shop().fan.scaled(speed=0.6)
    found = limit(500, 4, fan=weak)
    assert found is not None
    assert found.hopeless
    assert found.possible < found.required
    strong = limit(700)
    assert strong is not None
    assert not strong.hopeless


def test_larger_than_any_usual_port() -> None:
    found = limit(9000, 12)
    assert found is not None
    assert found.larger is None
    assert found.count > 1


def test_a_duct_has_no_port() -> None:
    with pytest.raises(AirflowError) as caught:
        port_limit(Network(reference_shop()), "main0")
    assert caught.value.code == "unknown_element"
