"""The cards' data: a complete snapshot once, then only changes."""

import json
from typing import Any

from homeassistant.auth.models import User
from homeassistant.auth.permissions import PolicyPermissions
from homeassistant.auth.permissions.models import PermissionLookup
from homeassistant.config_entries import ConfigEntryDisabler, ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import device_registry as dr, entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import (
    MockHAClientWebSocket,
    WebSocketGenerator,
)

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.airflow import solve
from custom_components.gatewright.features.cards.subscription import FEEDS

from .air_shop import FAN, ducted_parts
from .workshop import (
    COLLECTOR,
    LAMP,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    gate,
    machine,
    standard_parts,
    system_entry,
)


class Card:
    """A subscription, and the snapshot from its messages."""

    def __init__(self, hass: HomeAssistant, client: MockHAClientWebSocket) -> None:
        """Look through a signed-in connection."""
        self.hass = hass
        self.client = client
        self.number = 0
        self.picture: dict[str, Any] = {}
        self.messages: list[dict[str, Any]] = []

    async def subscribe(self, **fields: Any) -> dict[str, Any]:
        """Subscribe; return the answer."""
        await self.client.send_json_auto_id({"type": "gatewright/subscribe", **fields})
        answer: dict[str, Any] = await self.client.receive_json()
        self.number = answer["id"]
        if answer["success"]:
            await self.catch_up()
        return answer

    async def catch_up(self) -> list[dict[str, Any]]:
        """Take every message sent so far; return the new ones."""
        await self.hass.async_block_till_done()
        # Whatever was sent before the answer to a ping was sent before the ping.
        await self.client.send_json_auto_id({"type": "ping"})
        new = []
        while (message := await self.client.receive_json())["type"] != "pong":
            assert message["id"] == self.number
            new.append(message["event"])
            self.take(message["event"])
        self.messages += new
        return new

    def take(self, message: dict[str, Any]) -> None:
        """Merge a message into the snapshot, like a card."""
        if "state" in message:
            self.picture = {"gates": {}, "machines": {}, "alarms": [], "system": {}}
        for key, value in message.items():
            if key == "system":
                self.picture["system"] |= value
            elif key in ("gates", "machines"):
                for part, changes in value.items():
                    if changes is None:
                        del self.picture[key][part]
                    else:
                        self.picture[key].setdefault(part, {}).update(changes)
            else:
                self.picture[key] = value

    @property
    def system(self) -> dict[str, Any]:
        """The collector as the card sees it."""
        system: dict[str, Any] = self.picture["system"]
        return system

    def machine(self, machine_id: str) -> dict[str, Any]:
        """Return a machine as the card sees it."""
        found: dict[str, Any] = self.picture["machines"][machine_id]
        return found

    def gate(self, gate_id: str) -> dict[str, Any]:
        """Return a gate as the card sees it."""
        found: dict[str, Any] = self.picture["gates"][gate_id]
        return found


@pytest.fixture
async def entry(workshop: Workshop) -> MockConfigEntry:
    """Set the standard workshop up."""
    entry = system_entry()
    await workshop.start(entry)
    return entry


@pytest.fixture
async def card(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> Card:
    """Subscribe to the standard workshop."""
    card = Card(hass, await hass_ws_client(hass))
    assert (await card.subscribe())["success"]
    return card


async def test_the_whole_picture_comes_first(card: Card) -> None:
    assert len(card.messages) == 1
    assert card.picture["state"] == "running"
    assert card.system["name"] == "Dust collector"
    assert card.system["phase"] == "idle"
    assert card.system["entity"] == "switch.dust_collector"
    assert card.system["control"] is True
    turning = {"turning": "binary_sensor.dust_collector_turning"}
    assert card.system["entities"] == turning
    assert list(card.picture["gates"]) == ["saw_gate", "planer_gate", "sweep_gate"]
    saw = card.machine("saw")
    assert saw["gates"] == ["saw_gate"]
    assert saw["phase"] == "idle"
    assert saw["entities"]["collecting"] == "binary_sensor.table_saw_collecting"
    assert card.machine("sweep")["sensed"] is False
    assert card.gate("saw_gate")["stand"] == "shut"
    assert card.gate("saw_gate")["entity"] == "cover.saw_gate"
    assert card.picture["alarms"] == []


async def test_changes_add_up_to_the_whole_and_are_small(
    hass: HomeAssistant, workshop: Workshop, card: Card
) -> None:
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await card.catch_up()
    assert card.machine("saw")["running"] is True
    assert card.machine("saw")["air"] is True
    assert card.gate("saw_gate")["stand"] == "open"
    assert card.system["phase"] == "collecting"
    assert card.system["turning"] is True
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(6)
    await card.catch_up()
    assert card.system["phase"] == "shutting_off"
    left = card.system["until"] - card.picture["now"]
    assert 0 < left <= 3
    await workshop.pass_time(4)
    await card.catch_up()
    assert card.system["phase"] == "spinning_down"
    assert card.system["may_turn"] is True
    await workshop.pass_time(12)
    changes = card.messages[1:]
    await card.catch_up()
    assert card.system["phase"] == "idle"

    sizes = [len(json.dumps(change, separators=(",", ":"))) for change in changes]
    assert max(sizes) < 250
    whole = len(json.dumps(card.messages[0], separators=(",", ":")))
    assert sum(sizes) < whole

    again = Card(hass, card.client)
    await again.subscribe()
    for key in ("system", "gates", "machines", "alarms"):
        assert again.picture[key] == card.picture[key]


async def test_what_changes_nothing_is_not_sent(workshop: Workshop, card: Card) -> None:
    # Longer than until the running totals are shown again.
    for watts in (3, 4, 5, 2):
        workshop.watts(SAW_POWER, watts)
        await workshop.pass_time(8, 1)
    assert await card.catch_up() == []
    workshop.watts(SAW_POWER, 1500)
    await workshop.pass_time(3)
    await card.catch_up()
    for watts in (1400, 1600, 1450, 1300):
        workshop.watts(SAW_POWER, watts)
        await workshop.pass_time(8, 1)
    assert await card.catch_up() == []


async def test_a_request_and_its_end(
    hass: HomeAssistant, workshop: Workshop, card: Card
) -> None:
    target = {"entity_id": card.machine("sweep")["entity"]}
    await hass.services.async_call("switch", "turn_on", target, blocking=True)
    await workshop.pass_time(1)
    await card.catch_up()
    sweep = card.machine("sweep")
    assert sweep["requested"] is True
    assert sweep["phase"] == "running"
    assert sweep["air"] is True
    assert 590 < sweep["request_until"] - card.picture["now"] <= 600
    await hass.services.async_call("switch", "turn_off", target, blocking=True)
    await card.catch_up()
    assert card.machine("sweep")["requested"] is False
    assert card.machine("sweep")["request_until"] is None


async def test_after_unsubscribing_nothing_is_sent(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, card: Card
) -> None:
    await card.client.send_json_auto_id(
        {"type": "unsubscribe_events", "subscription": card.number}
    )
    assert (await card.client.receive_json())["success"]
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert await card.catch_up() == []
    assert hass.data[FEEDS].of(entry)._readers == []


async def test_an_alarm_appears_and_goes(workshop: Workshop, card: Card) -> None:
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.5)
    await card.catch_up()
    assert card.gate("saw_gate")["stand"] == "opening"
    await workshop.pass_time(15)
    await card.catch_up()
    alarms = [(alarm["kind"], alarm["part"]) for alarm in card.picture["alarms"]]
    assert ("gate_not_moving", "saw_gate") in alarms
    assert card.gate("saw_gate")["fault"] == "failed"
    workshop.deaf.clear()
    workshop.saw_gate.become(is_closed=False)
    await workshop.pass_time(2)
    await card.catch_up()
    assert card.picture["alarms"] == []
    assert card.gate("saw_gate")["stand"] == "open"


async def test_an_actuator_that_is_away(workshop: Workshop, card: Card) -> None:
    workshop.put(SAW_GATE, "unavailable")
    workshop.put(COLLECTOR, "unavailable")
    await card.catch_up()
    assert card.gate("saw_gate")["fault"] == "away"
    assert card.system["fault"] == "away"


async def test_parts_come_change_and_go(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, card: Card
) -> None:
    update = hass.config_entries.async_update_subentry
    update(entry, entry.subentries["saw"], title="Big saw")
    await card.catch_up()
    assert card.messages[-1]["machines"]["saw"]["name"] == "Big saw"

    for new in (
        gate("lathe_gate", "Lathe gate", gate_kind="fixed"),
        machine("lathe", "Lathe", gates=["lathe_gate"]),
    ):
        subentry = ConfigSubentry(
            data=new["data"],  # type: ignore[arg-type]
            subentry_id=new["subentry_id"],
            subentry_type=new["subentry_type"],
            title=new["title"],
            unique_id=new["unique_id"],
        )
        hass.config_entries.async_add_subentry(entry, subentry)
    await card.catch_up()
    assert card.gate("lathe_gate")["kind"] == "fixed"
    assert card.gate("lathe_gate")["stand"] == "open"
    assert card.gate("lathe_gate")["control"] is False
    assert card.machine("lathe")["entity"] == "switch.lathe"
    assert card.machine("lathe")["control"] is True

    registry = er.async_get(hass)
    registry.async_update_entity("switch.lathe", new_entity_id="switch.turning")
    await card.catch_up()
    assert card.messages[-1]["machines"] == {"lathe": {"entity": "switch.turning"}}

    # The lathe loses its only gate: it's shown, but not served.
    hass.config_entries.async_remove_subentry(entry, "lathe_gate")
    await card.catch_up()
    assert "lathe_gate" not in card.picture["gates"]
    assert card.machine("lathe")["phase"] is None
    hass.config_entries.async_remove_subentry(entry, "lathe")
    await card.catch_up()
    assert "lathe" not in card.picture["machines"]
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await card.catch_up()
    assert card.machine("saw")["air"] is True


async def test_a_card_outlives_reload_disabling_and_removal(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, card: Card
) -> None:
    await hass.config_entries.async_reload(entry.entry_id)
    states = [
        message["state"] for message in await card.catch_up() if "state" in message
    ]
    assert states[-1] == "running"
    assert "running" not in states[:-1]
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await card.catch_up()
    assert card.machine("saw")["air"] is True

    by_user = ConfigEntryDisabler.USER
    await hass.config_entries.async_set_disabled_by(entry.entry_id, by_user)
    await card.catch_up()
    assert card.picture["state"] == "disabled"
    assert card.picture["name"] == "Dust collector"
    later = Card(hass, card.client)
    later.number = card.number
    await hass.config_entries.async_set_disabled_by(entry.entry_id, None)
    await card.catch_up()
    assert card.picture["state"] == "running"
    assert card.gate("saw_gate")["stand"] == "open"

    await hass.config_entries.async_remove(entry.entry_id)
    await card.catch_up()
    assert card.picture["state"] == "removed"
    assert (await later.subscribe())["error"]["code"] == "not_found"


async def test_systems_and_how_to_choose_one(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, card: Card
) -> None:
    other = MockConfigEntry(
        domain=DOMAIN,
        minor_version=2,
        title="Small collector",
        data={**entry.data, "switch": "switch.lamp", "hand_gates": []},
        subentries_data=[machine("bench", "Bench hood", gates=[])],
    )
    await workshop.start(other)
    await card.catch_up()
    await card.client.send_json_auto_id({"type": "gatewright/systems"})
    systems = (await card.client.receive_json())["result"]
    assert systems == [
        {"entry_id": entry.entry_id, "name": "Dust collector", "loaded": True},
        {"entry_id": other.entry_id, "name": "Small collector", "loaded": True},
    ]
    second = Card(hass, card.client)
    await second.subscribe(entry_id=other.entry_id)
    assert list(second.picture["machines"]) == ["bench"]
    nowhere = Card(hass, card.client)
    answer = await nowhere.subscribe(entry_id="nowhere")
    assert answer["error"]["code"] == "not_found"


async def test_a_user_who_may_only_look(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_ws_client: WebSocketGenerator,
    hass_read_only_access_token: str,
) -> None:
    card = Card(hass, await hass_ws_client(hass, hass_read_only_access_token))
    assert (await card.subscribe())["success"]
    assert len(card.picture["machines"]) == 3
    assert card.system["control"] is False
    parts = [*card.picture["machines"].values(), *card.picture["gates"].values()]
    assert not any(part["control"] for part in parts)


async def test_a_user_sees_what_the_rights_allow(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    hass_ws_client: WebSocketGenerator,
    hass_read_only_access_token: str,
    hass_read_only_user: User,
) -> None:
    def allow(**entities: dict[str, bool]) -> None:
        names = {name.replace("__", "."): rights for name, rights in entities.items()}
        policy = {"entities": {"entity_ids": names}}
        lookup = PermissionLookup(er.async_get(hass), dr.async_get(hass))
        # Rights are computed once for each user and cached.
        hass_read_only_user.__dict__["permissions"] = PolicyPermissions(policy, lookup)

    look = {"read": True}
    card = Card(hass, await hass_ws_client(hass, hass_read_only_access_token))
    allow(switch__table_saw_air_request=look)
    assert (await card.subscribe())["error"]["code"] == "not_found"
    await card.client.send_json_auto_id({"type": "gatewright/systems"})
    assert (await card.client.receive_json())["result"] == []

    saw_switch = next(
        entity.entity_id
        for entity in er.async_get(hass).entities.values()
        if entity.unique_id == "saw_request"
    )
    rights = {
        "switch__dust_collector": look,
        saw_switch.replace(".", "__"): {"read": True, "control": True},
    }
    allow(**rights)
    await card.subscribe()
    assert list(card.picture["machines"]) == ["saw"]
    assert card.machine("saw")["control"] is True
    assert card.system["control"] is False
    assert card.picture["gates"] == {}

    # An alarm at a gate that the user may not see stays hidden.
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    await card.catch_up()
    assert card.machine("saw")["running"] is True
    assert {alarm["part"] for alarm in card.picture["alarms"]} <= {"saw"}

    allow(switch__dust_collector=look)
    hass.config_entries.async_update_entry(entry, title="Collector")
    await card.catch_up()
    assert card.picture["machines"] == {}


async def test_an_alarm_of_a_linked_device_names_it(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    parts = standard_parts()
    saw = next(part for part in parts if part["subentry_id"] == "saw")
    saw["data"] = {**saw["data"], "companions": [LAMP]}
    await workshop.start(system_entry(parts))
    card = Card(hass, await hass_ws_client(hass))
    await card.subscribe()
    workshop.fails[LAMP] = HomeAssistantError("gone")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(25, 1)
    await card.catch_up()
    alarms = [alarm for alarm in card.picture["alarms"] if alarm["part"] == LAMP]
    assert [alarm["kind"] for alarm in alarms] == ["command_failed"]
    assert (alarms[0]["name"], alarms[0]["entity"]) == ("lamp", LAMP)


async def test_the_air_as_it_is_computed(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    card = Card(hass, await hass_ws_client(hass))
    await card.subscribe()
    assert {duct["id"]: duct["into"] for duct in card.picture["ducts"]} == {
        "main": None,
        "branch": "main",
        "far": "main",
    }
    assert card.picture["ducts"][2]["gates"] == ["planer_gate", "sweep_gate"]
    assert "flows" not in card.picture

    await workshop.saw_runs()
    await workshop.pass_time(2)
    await card.catch_up()
    air = entry.runtime_data.air
    flows = card.picture["flows"]
    assert flows["ducts"].keys() == {"main", "branch"}
    solution = solve(air.shop.network, {"saw_gate"})
    assert flows["ducts"]["main"]["speed"] == round(solution.duct_velocity("main"), 1)
    assert flows["machines"] == {
        "saw": {"flow": round(solution.flow, 4), "low": False, "marginal": False}
    }
    # Twice the width is a quarter of the velocity: the material settles.
    change_part(hass, entry, "main", diameter=0.3)
    await workshop.pass_time(1)
    await card.catch_up()
    main, branch = (card.picture["flows"]["ducts"][d] for d in ("main", "branch"))
    assert (main["slow"], branch["slow"]) == (True, False)

    hass.config_entries.async_remove_subentry(entry, "far")
    await card.catch_up()
    assert [duct["id"] for duct in card.picture["ducts"]] == ["main", "branch"]
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(30)
    await card.catch_up()
    assert card.picture["flows"] is None


async def test_pictures_of_machines_without_gates(
    hass: HomeAssistant, workshop: Workshop, hass_ws_client: WebSocketGenerator
) -> None:
    parts = [part for part in standard_parts() if part["subentry_type"] == "machine"]
    parts = [part | {"data": {**part["data"], "gates": []}} for part in parts]
    await workshop.start(system_entry(parts, hand_gates=[]))
    card = Card(hass, await hass_ws_client(hass))
    await card.subscribe()
    assert card.picture["gates"] == {}
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await card.catch_up()
    assert card.machine("saw")["air"] is True
