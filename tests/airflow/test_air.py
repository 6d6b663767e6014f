from fluids.atmosphere import ATMOSPHERE_1976
import pytest

from custom_components.gatewright.core.airflow.air import (
    SEA_LEVEL_PRESSURE,
    Air,
    density,
    dynamic_viscosity,
    standard_pressure,
    standard_temperature,
    velocity,
    velocity_pressure,
)
from custom_components.gatewright.core.airflow.errors import AirflowError
from tests.airflow import tables
from tests.airflow.handbook import density_factor


@pytest.mark.parametrize(
    "row", tables.rows("atmosphere"), ids=lambda r: r["altitude_m"]
)
def test_standard_atmosphere(row: dict[str, str]) -> None:
    """US Standard Atmosphere, 1976, by altitude; printed to four places."""
    altitude = float(row["altitude_m"])
    pressure = standard_pressure(altitude)
    assert pressure / SEA_LEVEL_PRESSURE == pytest.approx(
        float(row["isa_pressure_ratio"]), abs=1.5e-4
    )
    rho = density(pressure, standard_temperature(altitude) - 273.15)
    assert rho == pytest.approx(float(row["isa_density"]), abs=1.5e-4)
    assert rho / 1.225 == pytest.approx(float(row["isa_density_ratio"]), abs=1.5e-4)


@pytest.mark.parametrize(
    "row", tables.rows("atmosphere"), ids=lambda r: r["altitude_m"]
)
def test_handbook_density_factor(row: dict[str, str]) -> None:
    """ACGIH elevation factor at 70 F, and how close a heated shop's density is to it."""
    altitude = float(row["altitude_m"])
    factor = density_factor(altitude=altitude, temperature=(70 - 32) / 1.8)
    assert factor == pytest.approx(float(row["handbook_factor"]), abs=6e-5)
    air = Air.at(altitude, temperature=(70 - 32) / 1.8)
    assert air.density / Air.at(0.0, (70 - 32) / 1.8).density == pytest.approx(
        factor, rel=0.009
    )


def test_handbook_temperature_and_pressure_factors() -> None:
    """530 / (T + 460) by temperature in F, (407 + SP) / 407 by suction in in. w.g."""
    for fahrenheit, factor in (
        (32, 1.0772),
        (50, 1.0392),
        (70, 1.0),
        (100, 0.9464),
        (120, 0.9138),
    ):
        found = density_factor(temperature=(fahrenheit - 32) / 1.8)
        assert found == pytest.approx(factor, abs=6e-5)
    at_10_inches = density_factor(temperature=(70 - 32) / 1.8, gauge=-10 * 249.08891)
    assert at_10_inches == pytest.approx(397 / 407)


@pytest.mark.parametrize("altitude", [-300.0, 0.0, 500.0, 1500.0, 3000.0, 8000.0])
def test_atmosphere_of_fluids(altitude: float) -> None:
    """The package `fluids` holds the same standard atmosphere."""
    theirs = ATMOSPHERE_1976(altitude)
    assert standard_pressure(altitude) == pytest.approx(theirs.P, rel=2e-6)
    assert standard_temperature(altitude) == pytest.approx(theirs.T, rel=1e-9)
    celsius = theirs.T - 273.15
    assert density(theirs.P, celsius) == pytest.approx(theirs.rho, rel=2e-6)
    assert dynamic_viscosity(celsius) == pytest.approx(theirs.mu, rel=1e-6)


def test_a_heated_shop_is_denser_than_the_standard_atmosphere_is_not() -> None:
    """At 2134 m and 20 C: pressure ratio 0.7717 on 1.2041 kg/m3."""
    assert Air.at(2133.6, 20.0).density == pytest.approx(0.7717 * 1.2041, rel=2e-4)
    assert Air.at(0.0, 20.0).density == pytest.approx(1.2041, abs=1e-4)
    assert Air.at(0.0, 20.0).kinematic_viscosity == pytest.approx(1.506e-5, rel=2e-3)


def test_suction_thins_the_air() -> None:
    thin = Air.at(0.0, 20.0, gauge=-3000.0)
    assert thin.density / Air.at(0.0, 20.0).density == pytest.approx(1 - 3000 / 101325)


def test_velocity_pressure_both_ways() -> None:
    assert velocity(velocity_pressure(20.0, 1.1), 1.1) == pytest.approx(20.0)
    assert velocity_pressure(20.0) == pytest.approx(240.0)


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: standard_pressure(20_000.0), "altitude_range"),
        (lambda: standard_temperature(-2_000.0), "altitude_range"),
        (lambda: density(-1.0, 20.0), "pressure_range"),
        (lambda: density(101_325.0, 200.0), "temperature_range"),
        (lambda: Air(density=0.0), "air_range"),
        (lambda: Air(viscosity=1.0), "air_range"),
        (lambda: velocity(-1.0), "pressure_range"),
    ],
)
def test_refusals(call: object, code: str) -> None:
    assert callable(call)
    with pytest.raises(AirflowError) as caught:
        call()
    assert caught.value.code == code
