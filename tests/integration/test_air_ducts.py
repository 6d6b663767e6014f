"""From stored data to a network: the effect of each figure."""

from typing import Any
from unittest.mock import patch

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.core.airflow import (
    MACHINES,
    MATERIALS_CARRIED,
    Network,
    Pickup,
    Seal,
    leak_area,
    solve,
)
from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.features.airflow.automatic_control import drive_speed
from custom_components.gatewright.features.airflow.ducts import (
    AirShop,
    into_of,
    read_air,
)
from custom_components.gatewright.features.airflow.needs import NEEDS, usual_flow
from custom_components.gatewright.runtime.entry_data import read_config

from .air_shop import FAN, duct, ducted_parts
from .workshop import (
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    FakeSlide,
    Workshop,
    change_part,
    gate,
    machine,
    system_entry,
)


def _shop(hass: HomeAssistant, entry: MockConfigEntry) -> AirShop:
    shop = read_air(hass, read_config(entry))
    assert shop is not None
    return shop


def _pickup(shop: AirShop, pickup: str) -> Pickup:
    part = shop.network.element(pickup).part
    assert isinstance(part, Pickup)
    return part


def _entry(hass: HomeAssistant, *more: Any, **data: Any) -> MockConfigEntry:
    entry = system_entry([*ducted_parts(), *more], **{**FAN, **data})
    entry.add_to_hass(hass)
    return entry


async def test_what_lies_before_a_gate(hass: HomeAssistant) -> None:
    shop = _shop(hass, _entry(hass))
    saw = _pickup(shop, "saw_gate")
    # The hose is as wide as the port, so that the port is no pipe of its own.
    assert [(pipe.diameter, pipe.length) for pipe in saw.pipes] == [(0.1, 1.5)]
    assert saw.entry_k == 1.75
    planer = _pickup(shop, "planer_gate")
    assert [(pipe.diameter, pipe.length) for pipe in planer.pipes] == [(0.15, 0.0)]
    sweep = _pickup(shop, "sweep_gate")
    assert [(pipe.diameter, pipe.length) for pipe in sweep.pipes] == [(0.1, 1.0)]
    assert sweep.pipes[0].elbows[0].count == 1
    assert sweep.entry_angle == 30.0


async def test_an_opening_straight_on_the_duct_and_one_that_never_shuts(
    hass: HomeAssistant,
) -> None:
    entry = _entry(
        hass, gate("inlet", "Inlet", gate_kind="fixed", duct="main", hood="bell_mouth")
    )
    shop = _shop(hass, entry)
    inlet = _pickup(shop, "inlet")
    assert inlet.pipes == ()
    assert inlet.gate is None
    assert inlet.required == 0
    assert "inlet" not in shop.network.gates
    assert solve(shop.network, set()).flow > 0


async def test_a_gate_that_shuts_its_duct_off(hass: HomeAssistant) -> None:
    entry = _entry(
        hass,
        gate("wing_gate", "Wing gate", actuator="switch.wing", duct="far", hood="none"),
        gate("wing_inlet", "Wing inlet", gate_kind="fixed", duct="far", hood="none"),
    )
    change_part(hass, entry, "planer", gates=["planer_gate", "wing_gate"])
    hass.config_entries.async_remove_subentry(entry, "wing_inlet")
    shop = _shop(hass, entry)
    assert shop.needs["planer"].gates == {"planer_gate", "wing_gate"}
    assert shop.needs["planer"].pickups == ("planer_gate",)
    assert solve(shop.network, {"planer_gate"}).flow == 0
    assert solve(shop.network, {"planer_gate", "wing_gate"}).flow > 0


async def test_the_collector_and_its_air(hass: HomeAssistant) -> None:
    hass.config.elevation = 1600
    plain = _shop(hass, _entry(hass)).network.system
    assert plain.air.density == pytest.approx(0.99, abs=0.01)
    assert plain.discharge is None
    assert plain.separator is not None
    assert plain.separator.resistance == pytest.approx(400 / 0.4**2)
    assert plain.filter is not None
    assert plain.filter.resistance == pytest.approx(200 / 0.4)
    other = system_entry(
        ducted_parts(),
        entry_id="other",
        free_flow=0.7,
        max_suction=2600.0,
        inlet_diameter=0.2,
        discharge="outside",
        stack_diameter=0.25,
        altitude=0.0,
        temperature=15.0,
        carried="heavy",
    )
    other.add_to_hass(hass)
    shop = _shop(hass, other)
    system = shop.network.system
    assert system.air.density == pytest.approx(1.225, abs=0.001)
    assert system.discharge is not None
    assert (system.separator, system.filter) == (None, None)
    assert system.inlet_diameter == 0.2
    assert system.fan.points[0][1] == 2600.0
    heavy = MATERIALS_CARRIED["heavy"].minimum
    assert {need.transport for need in shop.needs.values()} == {heavy}


async def test_several_ports_share_what_their_machine_needs(
    hass: HomeAssistant,
) -> None:
    entry = _entry(hass)
    change_part(hass, entry, "saw", gates=["saw_gate", "planer_gate"], kind="band_saw")
    change_part(hass, entry, "planer", kind="other")
    shop = _shop(hass, entry)
    need = shop.needs["saw"]
    assert need.required == MACHINES["band_saw"].need().flow
    shares = [_pickup(shop, gate).required for gate in need.pickups]
    assert sum(shares) == pytest.approx(need.required)
    # By the area of the ports.
    assert shares[1] / shares[0] == pytest.approx((0.15 / 0.1) ** 2)


async def test_where_a_machines_need_is_from(hass: HomeAssistant) -> None:
    entry = _entry(hass, machine("lathe", "Lathe", gates=["gone"], kind="lathe"))
    change_part(hass, entry, "planer", required_flow=0.5)
    change_part(hass, entry, "saw", needs_air=False)
    needs = _shop(hass, entry).needs
    assert (needs["planer"].required, needs["planer"].status) == (0.5, "owner")
    assert (needs["saw"].required, needs["saw"].status) == (0.0, "none")
    assert needs["sweep"].status == "memory"
    assert not needs["lathe"].placed
    assert NEEDS.keys() == set(MachineKind)
    assert usual_flow(MachineKind.PLANER, 0.6) > usual_flow(MachineKind.PLANER, 0.4)
    # Its size would be a surface.
    drum = MachineKind.DRUM_SANDER
    assert usual_flow(drum, 0.6) == usual_flow(drum, None)
    assert usual_flow(MachineKind.OTHER, None) == 0


async def test_a_broken_tree_flows_into_the_collector(hass: HomeAssistant) -> None:
    entry = _entry(
        hass,
        duct("a", "A", into="b"),
        duct("b", "B", into="a"),
        duct("c", "C", into="x"),
    )
    into = into_of(entry)
    assert into["c"] is None
    assert None in (into["a"], into["b"])
    assert into["far"] == "main"
    _shop(hass, entry)


@pytest.mark.parametrize(
    ("entity_id", "state", "attributes", "speed"),
    [
        ("fan.drive", "on", {"percentage": 66}, 0.66),
        ("fan.drive", "off", {"percentage": 0}, 1.0),
        ("fan.drive", "unavailable", {}, None),
        ("number.drive", "45", {"max": 60}, 0.75),
        ("number.drive", "unknown", {"max": 60}, None),
        ("number.drive", "45", {"max": 0}, None),
        ("number.drive", "45", {}, None),
    ],
)
async def test_what_a_drive_says(
    hass: HomeAssistant,
    entity_id: str,
    state: str,
    attributes: dict[str, Any],
    speed: float | None,
) -> None:
    hass.states.async_set(entity_id, state, attributes)
    shown = hass.states.get(entity_id)
    assert shown
    assert drive_speed(shown) == speed


async def test_a_gate_left_half_way(hass: HomeAssistant, workshop: Workshop) -> None:
    slide = FakeSlide(workshop, "cover.slide")
    await workshop.add(slide)
    entry = system_entry(ducted_parts(), **FAN)
    entry.add_to_hass(hass)
    change_part(hass, entry, "saw_gate", actuator="cover.slide")
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(6)
    air = entry.runtime_data.air
    assert air.now.gates == {"saw_gate": 1.0}
    slide.by_hand(current_cover_position=53, is_closed=False)
    await workshop.pass_time(1)
    assert air.now.gates["saw_gate"] == 0.5


async def test_a_gate_that_moves_while_a_large_shop_is_solved(
    workshop: Workshop,
) -> None:
    entry = system_entry(ducted_parts(), **FAN)
    with patch("custom_components.gatewright.features.airflow.manager.INLINE", 0):
        await workshop.start(entry)
        workshop.watts(SAW_POWER, 1400)
        workshop.watts(PLANER_POWER, 2000)
        await workshop.pass_time(10, 0.1)
    air = entry.runtime_data.air
    assert air.now.solution.flow == pytest.approx(
        solve(air.shop.network, {"saw_gate", "planer_gate"}).flow
    )


async def test_only_so_many_solutions_are_remembered(workshop: Workshop) -> None:
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    with patch("custom_components.gatewright.features.airflow.manager._REMEMBERED", 1):
        await workshop.saw_runs()
        await workshop.pass_time(6)
        workshop.watts(PLANER_POWER, 2000)
        await workshop.pass_time(8)
    with patch.object(Network, "gate_losses", side_effect=AssertionError):
        workshop.put(SAW_GATE, "open")
        await workshop.pass_time(1)
    assert len(entry.runtime_data.air._solved) == 1


async def test_a_listener_that_fails_stops_nobody_else(
    workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    reported = []

    def fail() -> None:
        raise ValueError("no")

    air = entry.runtime_data.air
    forget = air.listen(fail)
    air.listen(lambda: reported.append(1))
    await workshop.saw_runs()
    await workshop.pass_time(6)
    assert reported
    assert "The airflow cannot be shown" in caplog.text
    forget()


async def test_a_filter_gauge_alone(hass: HomeAssistant, workshop: Workshop) -> None:
    gauge = {"unit_of_measurement": "Pa"}
    workshop.put("sensor.gauge", "0", gauge)
    entry = system_entry(ducted_parts(), **FAN, filter_pressure="sensor.gauge")
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(6)
    finding = "sensor.dust_collector_airflow_finding"
    workshop.put(
        "sensor.gauge",
        str(2.5 * entry.runtime_data.air.now.solution.filter_pressure),
        gauge,
    )
    await workshop.pass_time(12)
    assert workshop.state(finding) == "filter_loaded"
    assert hass.states.get("sensor.dust_collector_suction_deviation") is (None)


async def test_choices_reach_the_network(hass: HomeAssistant) -> None:
    """Hose, seal, inlet, what rises and the margin, as the owner chose them."""
    parts = ducted_parts()
    for part in parts:
        if part["subentry_id"] == "saw_gate":
            part["data"] = {
                **part["data"],
                "hose_state": "hanging",
                "seal": "usual",
                "drop_length": 2.0,
            }
        if part["subentry_id"] == "branch":
            part["data"] = {**part["data"], "vertical": True}
    entry = system_entry(parts, **FAN, inlet="elbow_at", air_margin=20)
    shop = read_air(hass, read_config(entry))
    assert shop is not None
    assert shop.margin == pytest.approx(1.2)
    system = shop.network.system
    assert system.inlet_k == 1.2
    saw = next(p for p in system.pickups if p.id == "saw_gate")
    hung, drop = saw.pipes
    assert (hung.friction_scale, len(hung.elbows)) == (3.0, 1)
    assert (hung.vertical, drop.vertical) == (False, True)
    assert saw.gate is not None
    assert saw.gate.leak_area == pytest.approx(leak_area(Seal.USUAL, drop.diameter))
    assert saw.rising > saw.transport
    assert saw.velocity_ratio < 1.0
    assert next(d for d in system.ducts if d.id == "branch").vertical
    plain = read_air(hass, read_config(system_entry(ducted_parts(), **FAN)))
    assert plain is not None
    assert plain.margin == pytest.approx(1.15)
    gates = [p.gate for p in plain.network.system.pickups if p.gate]
    assert all(gate.leak_area == 0.0 for gate in gates)
