import pytest

from custom_components.gatewright.core.airflow.errors import AirflowError
from custom_components.gatewright.core.airflow.machines import (
    MACHINES,
    MATERIALS_CARRIED,
    required_flow,
)
from custom_components.gatewright.core.airflow.units import CFM, FPM, INCH
from tests.airflow import tables
from tests.airflow.handbook import ANALOGUES, BENCH_FACE_VELOCITY, face_flow


@pytest.mark.parametrize(
    "row",
    tables.rows("machines"),
    ids=lambda r: f"{r['kind']} {r['size_inches']} {r['port']}",
)
def test_every_row_of_the_table(row: dict[str, str]) -> None:
    """Flow by machine and size; the plate stands in each row."""
    machine = (MACHINES | ANALOGUES)[row["kind"]]
    unit = INCH**2 if machine.size == "drum_surface" else INCH
    size = float(row["size_inches"]) * unit if row["size_inches"] else None
    need = machine.need(size)
    found = need.flow if row["port"] == "all" else need.ports[int(row["port"])]
    assert found / CFM == pytest.approx(float(row["cfm"]))
    # The SI column is rounded to a litre per second.
    assert found == pytest.approx(float(row["m3_s"]), abs=6e-4)
    assert machine.status == row["status"]
    if row["kind"] not in {"disc_sander", "miter_saw"}:
        # Of the disc sander's rows the largest are less sure than the others.
        assert machine.confidence == row["confidence"]


def test_recalled_flows_are_pipe_areas_at_4000_feet_per_minute() -> None:
    """4 in 349, 4.5 in 442, 5 in 545, 6 in 785, 8 in 1396, 9 in 1767, 10 in 2182 cfm.

    Which is what supports the flows of jointers and planers, all from memory.
    """
    pipes = {4: 350, 4.5: 440, 5: 550, 6: 785, 8: 1400, 9: 1765, 10: 2200}
    known = {
        round(need.flow / CFM)
        for kind in ("jointer", "planer")
        for need in MACHINES[kind].needs
    }
    assert known <= set(pipes.values()) | {1100}
    for inches, cfm in pipes.items():
        area = 0.7853981634 * (inches * INCH) ** 2
        assert area * 4000 * FPM / CFM == pytest.approx(cfm, rel=0.012)


@pytest.mark.parametrize("row", tables.rows("transport"), ids=lambda r: r["material"])
def test_transport_velocities(row: dict[str, str]) -> None:
    carried = MATERIALS_CARRIED[row["material"]]
    assert carried.low == pytest.approx(float(row["low_fpm"]) * FPM)
    assert carried.high == pytest.approx(float(row["high_fpm"]) * FPM)
    assert carried.low == pytest.approx(float(row["low_m_s"]), abs=0.06)
    assert carried.low <= carried.minimum <= carried.high
    assert carried.status == row["status"]


def test_a_disc_above_30_inches() -> None:
    """Title 8, section 5152, Table V-3, single spindle: 880 cfm over 30 in (read)."""
    disc = ANALOGUES["disc_grinder"]
    assert disc.need(30 * INCH).flow == pytest.approx(610 * CFM)
    assert disc.need(31 * INCH).flow == pytest.approx(880 * CFM)


def test_face_flow() -> None:
    # Down-draft bench: 100 ft/min, 0.51 m/s; 1.2 by 0.6 m.
    assert face_flow(1.2, 0.6, BENCH_FACE_VELOCITY) == pytest.approx(0.366, abs=5e-4)


def test_sizes() -> None:
    assert required_flow("planer") == required_flow("planer", 0.3)
    assert required_flow("planer", 0.63) == pytest.approx(1100 * CFM)
    assert required_flow("planer", 5.0) == pytest.approx(2200 * CFM)
    assert ANALOGUES["abrasive_belt"].need(1.0).flow == pytest.approx(500 * CFM)
    assert MACHINES["drill_press"].status == "practice"
    assert {machine.material for machine in MACHINES.values()} <= set(MATERIALS_CARRIED)
    for machine in MACHINES.values():
        sizes = [need.up_to for need in machine.needs]
        assert sizes == sorted(sizes)


def test_refusals() -> None:
    with pytest.raises(AirflowError) as caught:
        required_flow("dragline")
    assert caught.value.code == "machine_kind"
    with pytest.raises(AirflowError) as caught:
        required_flow("planer", -1.0)
    assert caught.value.code == "machine_size"
