"""Who may read, move and store what, for everything that exists.

Actions, commands, pages, intents and tools come from Home Assistant's registries, so
that a new one is tested automatically.
"""

from collections.abc import Iterator
import json
from typing import Any

from homeassistant.auth.models import User
from homeassistant.auth.permissions import PolicyPermissions
from homeassistant.auth.permissions.models import PermissionLookup
from homeassistant.components.websocket_api import DOMAIN as WEBSOCKET
from homeassistant.core import Context, HomeAssistant, SupportsResponse
from homeassistant.exceptions import HomeAssistantError, Unauthorized
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    intent,
    llm,
)
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import (
    ClientSessionGenerator,
    WebSocketGenerator,
)
import voluptuous as vol

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.intent import ShopIntent
from custom_components.gatewright.llm import ShopTool
from custom_components.gatewright.runtime.old_names.table import INTENTS
from custom_components.gatewright.runtime.permissions import GUARDED, Permission
from custom_components.gatewright.runtime.web import SystemView

from .air_shop import FAN, ducted_parts
from .test_llm import in_full, ours
from .test_record import saw_for
from .workshop import (
    LAMP,
    PLANER_POWER,
    SAW_POWER,
    Workshop,
    change_part,
    system_entry,
)

NAMES = ("Dust collector", "Table saw", "Planer", "Floor sweep", "gate", "Main")
"""What a user with access to one lamp must not read anywhere, in any refusal."""

EVERYTHING = {"all": {"read": True}}


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Set up the standard workshop with ducts, in which saw and planer ran."""
    for component in ("http", "websocket_api", "intent", "llm", "repairs"):
        assert await async_setup_component(hass, component, {})
    entry = system_entry(ducted_parts(), **FAN)
    await workshop.start(entry)
    await saw_for(workshop, 20)
    workshop.watts(PLANER_POWER, 1400)
    await workshop.pass_time(20, 1)
    workshop.watts(PLANER_POWER, 2)
    await workshop.pass_time(30, 1)
    workshop.sent()
    return entry


class Guest:
    """A user who is no administrator."""

    def __init__(self, hass: HomeAssistant, user: User) -> None:
        """May see one lamp."""
        self.hass = hass
        self.user = user
        self.context = Context(user_id=user.id)
        self.may({LAMP: {"read": True, "control": True}})

    def may(self, entities: dict[str, Any] | None = None, **policy: Any) -> None:
        """Allow exactly this."""
        rights = policy or {"entity_ids": entities}
        lookup = PermissionLookup(er.async_get(self.hass), dr.async_get(self.hass))
        # Rights are computed once for each user and cached.
        self.user.__dict__["permissions"] = PolicyPermissions(
            {"entities": rights}, lookup
        )

    async def act(self, action: str, **data: Any) -> Any:
        """Call an action of ours, and return its response if it has one."""
        answers = self.hass.services.supports_response(DOMAIN, action)
        return await self.hass.services.async_call(
            DOMAIN,
            action,
            data,
            blocking=True,
            context=self.context,
            return_response=answers is not SupportsResponse.NONE,
        )


@pytest.fixture
def guest(hass: HomeAssistant, hass_read_only_user: User) -> Guest:
    """Return a guest who may see and control one lamp."""
    return Guest(hass, hass_read_only_user)


def actions(hass: HomeAssistant) -> list[str]:
    """Return all our actions, from the registry of actions."""
    return sorted(hass.services.async_services_for_domain(DOMAIN))


def filled(hass: HomeAssistant, action: str) -> dict[str, Any]:
    """Return an action's minimal data."""
    schema = hass.services.async_services_for_domain(DOMAIN)[action].schema
    assert schema is not None, f"{action} takes anything"
    registry = er.async_get(hass)
    device = dr.async_get(hass).async_get_device_by_identifier(
        (DOMAIN, "system"), "system"
    )
    assert device is not None
    request = registry.async_get_entity_id("switch", DOMAIN, "sweep_request")
    for data in (
        {"config_entry_id": "system"},
        {"config_entry_id": "system", "setup": {}},
        {"device_id": device.id},
        {"entity_id": request},
    ):
        try:
            schema({**data})
        except vol.Invalid:
            continue
        if data.get("device_id") and action.endswith(("_air", "_collection")):
            continue
        return data
    raise AssertionError(f"say here how {action} is called")


def commands(hass: HomeAssistant) -> list[str]:
    """Return all our websocket commands, from the registry of commands."""
    return sorted(name for name in hass.data[WEBSOCKET] if name.startswith(DOMAIN))


def pages(hass: HomeAssistant) -> Iterator[str]:
    """Return the URLs of a system's pages, from the server's routes."""
    for resource in hass.http.app.router.resources():
        if resource.canonical.startswith(f"/api/{DOMAIN}/"):
            yield resource.canonical.replace("{entry_id}", "system")


def open_pages(hass: HomeAssistant) -> Iterator[str]:
    """Return those that aren't only for administrators."""
    closed = {
        view.url.replace("{entry_id}", "system")  # type: ignore[attr-defined]
        for view in leaves(SystemView)
        if view.deed is Permission.STORE  # type: ignore[attr-defined]
    }
    yield from (page for page in pages(hass) if page not in closed)


def leaves(kind: type) -> Iterator[type]:
    """Return the final subclasses of a class."""
    if not kind.__subclasses__():
        yield kind
    below: type
    for below in kind.__subclasses__():
        yield from leaves(below)


def kept(hass: HomeAssistant, entry: MockConfigEntry) -> str:
    """Return a system's stored set-up."""
    parts = {part: dict(sub.data) for part, sub in entry.subentries.items()}
    return json.dumps([dict(entry.data), parts], default=str, sort_keys=True)


async def test_everything_says_what_it_does(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    assert {*actions(hass), *commands(hass)} == hass.data[GUARDED].keys()
    handlers = [h for h in intent.async_get(hass) if h.intent_type.startswith("Gate")]
    assert len(handlers) == 7 + len(INTENTS)
    for handler in handlers:
        assert isinstance(handler, ShopIntent)
        assert handler.deed in Permission
    assert len(list(pages(hass))) == len(list(leaves(SystemView)))
    for kind in (*leaves(SystemView), *leaves(ShopTool)):
        assert kind.deed in Permission  # type: ignore[attr-defined]


async def test_who_sees_one_lamp_does_and_learns_nothing_by_actions(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, guest: Guest
) -> None:
    before = kept(hass, entry)
    for action in actions(hass):
        with pytest.raises(HomeAssistantError) as err:
            await guest.act(action, **filled(hass, action))
        reported = f"{err.value} {err.value.translation_placeholders}"
        assert not any(name in reported for name in NAMES), (action, reported)
        await workshop.pass_time(2)
        assert workshop.sent() == [], action
    assert kept(hass, entry) == before


async def test_who_may_only_look_moves_and_stores_nothing(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, guest: Guest
) -> None:
    guest.may(**EVERYTHING)
    before = kept(hass, entry)
    for action in actions(hass):
        if hass.data[GUARDED][action] is Permission.READ:
            continue
        with pytest.raises(Unauthorized):
            await guest.act(action, **filled(hass, action))
        await workshop.pass_time(2)
        assert workshop.sent() == [], action
    assert kept(hass, entry) == before


async def test_only_administrators_store(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, guest: Guest
) -> None:
    guest.may(all={"read": True, "control": True})
    before = kept(hass, entry)
    with pytest.raises(HomeAssistantError) as err:
        await guest.act("check_gates", config_entry_id="system")
    assert err.value.translation_key == "check_gates_stores"
    assert workshop.sent() == []
    with pytest.raises(Unauthorized):
        await hass.services.async_call(
            "switch",
            "turn_on",
            {"entity_id": "switch.dust_collector_monitor_only"},
            blocking=True,
            context=guest.context,
        )
    await workshop.settle()
    assert kept(hass, entry) == before


async def test_who_may_move_all_gates_may_check_them(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, guest: Guest
) -> None:
    rights = {
        name: {"read": True, "control": True}
        for name in ("switch.dust_collector", "cover.saw_gate", "cover.planer_gate")
    }
    guest.may(rights)
    with pytest.raises(Unauthorized):
        await guest.act("check_gates", config_entry_id="system", store=False)
    assert workshop.sent() == []


async def test_who_sees_one_lamp_learns_nothing_by_commands(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    guest: Guest,
    hass_ws_client: WebSocketGenerator,
    hass_read_only_access_token: str,
) -> None:
    client = await hass_ws_client(hass, hass_read_only_access_token)
    before = kept(hass, entry)
    fields: dict[str, dict[str, Any]] = {
        "rehearse": {"entry_id": "system", "start": "2026-11-24T08:00:00"},
        "plan/save": {"revision": 1, "document": {}},
        "plan/import": {"revision": 1, "content": "{}"},
        "plan/apply": {"revision": 1},
        "plan/discard": {"revision": 1},
    }
    for command in commands(hass):
        more = fields.get(command.partition("/")[2], {})
        if not command.endswith("systems"):
            more = {"entry_id": "system", **more}
        await client.send_json_auto_id({"type": command, **more})
        answer = await client.receive_json()
        assert not any(name in json.dumps(answer) for name in NAMES), answer
        stores = hass.data[GUARDED][command] is Permission.STORE
        refused = "unauthorized" if stores else "not_found"
        assert answer.get("result") == [] or answer["error"]["code"] == refused, answer
    assert kept(hass, entry) == before


async def test_who_sees_one_lamp_is_handed_out_nothing(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    guest: Guest,
    hass_client: ClientSessionGenerator,
    hass_read_only_access_token: str,
) -> None:
    client = await hass_client(hass_read_only_access_token)
    for page in pages(hass):
        answer = await client.get(page)
        assert answer.status == 404
        assert await answer.read() == b""
    guest.may(**EVERYTHING)
    shown = set(open_pages(hass))
    for page in pages(hass):
        assert (await client.get(page)).status == (200 if page in shown else 404)


async def test_who_sees_one_lamp_is_answered_nothing(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    guest: Guest,
    hass_client: ClientSessionGenerator,
    hass_read_only_access_token: str,
) -> None:
    """By voice, through the intent endpoint and through a model alike."""
    client = await hass_client(hass_read_only_access_token)
    for handler in list(intent.async_get(hass)):
        if not handler.intent_type.startswith("Gate"):
            continue
        answer = await client.post(
            "/api/intent/handle", json={"name": handler.intent_type}
        )
        reported = await answer.text()
        assert "You're not allowed to do that." in reported
        assert not any(name in reported for name in NAMES)
    asked = llm.LLMContext(
        platform="test",
        context=guest.context,
        language="en",
        assistant="conversation",
        device_id=None,
    )
    api = await llm.async_get_api(hass, llm.LLM_API_ASSIST, asked)
    assert ours(api) == {}
    for kind in leaves(ShopTool):
        tool = kind(["Floor sweep"]) if kind.deed is Permission.MOVE else kind()  # type: ignore[attr-defined]
        args = {"machine": "Floor sweep"} if tool.names else {}
        found = in_full(
            await tool.async_call(hass, llm.ToolInput(tool.name, args), asked)
        )
        assert found.error or [*found.data.values()] == [[]], found.data
    assert workshop.sent() == []


async def test_repairs_are_for_administrators(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    guest: Guest,
    hass_client: ClientSessionGenerator,
    hass_read_only_access_token: str,
) -> None:
    """Home Assistant ensures that; nothing of ours has to."""
    guest.may(all={"read": True, "control": True})
    client = await hass_client(hass_read_only_access_token)
    answer = await client.post(
        "/api/repairs/issues/fix", json={"handler": DOMAIN, "issue_id": "any"}
    )
    assert answer.status == 401


async def test_of_machines_only_those_that_may_be_seen(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    guest: Guest,
    hass_client: ClientSessionGenerator,
    hass_ws_client: WebSocketGenerator,
    hass_read_only_access_token: str,
) -> None:
    """The same in the summary, the assessment, the tables, the page, the feed, by voice."""
    workshop.put(SAW_POWER, "unavailable")
    await workshop.pass_time(70, 2)
    look = {"read": True}
    guest.may(
        {
            "switch.dust_collector": look,
            "switch.planer_dust_collection": look,
            "cover.planer_gate": look,
        }
    )
    reported: dict[str, str] = {}
    for action in ("get_summary", "assess_airflow"):
        found = await guest.act(action, config_entry_id="system")
        reported[action] = json.dumps(found)
    client = await hass_client(hass_read_only_access_token)
    for page in open_pages(hass):
        reported[page] = await (await client.get(page)).text()
    socket = await hass_ws_client(hass, hass_read_only_access_token)
    for command in ("subscribe", "record"):
        await socket.send_json_auto_id(
            {"type": f"{DOMAIN}/{command}", "entry_id": "system"}
        )
        answer = await socket.receive_json()
        if command == "subscribe":
            answer = await socket.receive_json()
            assert answer["event"]["machines"].keys() == {"planer"}
        reported[command] = json.dumps(answer)
    for name in ("GatewrightWhereCollecting", "GatewrightAnythingWrong"):
        answer = await client.post("/api/intent/handle", json={"name": name})
        reported[name] = await answer.text()
    for where, text in reported.items():
        for hidden in ("Table saw", "Saw gate", "Sweep gate", "Floor sweep"):
            assert hidden not in text, (where, hidden)
    for where in ("get_summary", "assess_airflow", "record", *open_pages(hass)):
        assert "Planer" in reported[where], where
    guest.may(**EVERYTHING)
    found = await guest.act("get_summary", config_entry_id="system")
    assert {row["name"] for row in found["machines"]} == {"Table saw", "Planer"}
    assert [row["part"] for row in found["alarms"]] == ["Table saw"]


async def test_a_refusal_names_only_what_may_be_seen(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, guest: Guest
) -> None:
    hass.states.async_set("sensor.secret", "1", {"friendly_name": "Night safe"})
    with pytest.raises(HomeAssistantError) as err:
        await guest.act("turn_on_collection", entity_id="sensor.secret")
    assert "Night safe" not in str(err.value.translation_placeholders)
    # Somebody who may have dust collection at the planer, but not see the collector.
    guest.may({"switch.planer_dust_collection": {"read": True, "control": True}})
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    with pytest.raises(HomeAssistantError) as err:
        await guest.act("turn_on_collection", entity_id="switch.planer_dust_collection")
    assert err.value.translation_placeholders == {"name": "Planer"}


async def test_no_table_hands_out_a_formula(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:

    formulas = ('=HYPERLINK("x")', "+1", "-1", "@A1", "\uff1d1+1", " =1", "\u00a0=2")
    client = await hass_client()
    for formula in formulas:
        change_part(hass, entry, "planer", title=formula)
        await hass.async_block_till_done()
        tables = [page for page in pages(hass) if page.endswith(".csv")]
        assert len(tables) == 3
        for page in tables:
            text = await (await client.get(page)).text()
            cells = [cell.strip('"') for line in text.split("\r\n") for cell in [line]]
            for line in cells:
                for cell in line.split(","):
                    bare = cell.strip('"').lstrip(" \u00a0")
                    assert not bare.startswith(("=", "+", "-", "@", "\uff1d")), line
