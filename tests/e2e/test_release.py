"""The zip of a release, unpacked as the community store does, in real Home Assistants.

`left_by_0_1_0.json` was written by that version in a real Home Assistant, after ten
minutes of work: its files, its registries (rows, with what most have in common), the
states it showed.
"""

import asyncio
from collections.abc import Iterator
from contextlib import AsyncExitStack
import json
from pathlib import Path
import re
import shutil
from typing import Any
from urllib.parse import urljoin
from zipfile import ZipFile

import aiohttp
import pytest

from demo.forms import Form
from demo.hub import Hub
from demo.hub_client import HubClient, Json
from demo.hub_directory import ROOT, HubDirectory, prepare
from demo.hub_states import PATIENCE
from tests.project.scripts_as_modules import load_script

LEFT: Json = json.loads(Path(__file__).with_name("left_by_0_1_0.json").read_text())
LANGUAGES = ("en", "de", "fr")
IMPORTS = re.compile(r"""(?:from|import)\s*\(?\s*["'`](\.[^"'`$]+)""")
"""The address of an import; one that may be tried again has an ending to be filled in."""

AUTOMATION = {
    "id": "break",
    "alias": "Clear the air after work",
    # Starts are blocked in that home: it would complain.
    "initial_state": False,
    "triggers": [
        {
            "trigger": "state",
            "entity_id": "sensor.dust_collector_phase",
            "to": "resting",
        }
    ],
    "actions": [
        {
            "action": "gatewright.request_air",
            "target": {"entity_id": "switch.floor_sweep"},
        }
    ],
}


def toggled(name: str) -> Json:
    """Return a switch made of a helper, or what opens and closes a gate."""
    helper = {"entity_id": f"input_boolean.{name}"}
    return {
        "name": name.replace("_", " ").capitalize(),
        "state": f"{{{{ is_state('input_boolean.{name}', 'on') }}}}",
        "turn_on": {"action": "input_boolean.turn_on", "target": helper},
        "turn_off": {"action": "input_boolean.turn_off", "target": helper},
    }


def gate(name: str) -> Json:
    """Return a cover made of a helper."""
    made = toggled(name)
    return {
        "name": made["name"],
        "state": made["state"],
        "open_cover": made["turn_on"],
        "close_cover": made["turn_off"],
    }


def measured(name: str, unit: str, device_class: str) -> Json:
    """Return a sensor made of a helper."""
    return {
        "name": name.replace("_", " ").capitalize(),
        "state": f"{{{{ states('input_number.{name}') }}}}",
        "unit_of_measurement": unit,
        "device_class": device_class,
    }


def yaml_of() -> str:
    """Return the devices of a small shop; JSON is YAML as well."""
    switches = ["collector_relay", "floor_sweep_gate_relay"]
    covers = ["planer_gate_actuator", "table_saw_gate_actuator"]
    sensors = {
        "planer_plug_power": ("W", "power"),
        "table_saw_plug_power": ("W", "power"),
        "collector_relay_power": ("W", "power"),
        "filter_gauge": ("Pa", "pressure"),
    }
    full = "{{ is_state('input_boolean.bin_level', 'on') }}"
    helpers = [*switches, *covers, "bin_level"]
    template = [
        {"switch": [toggled(name) for name in switches]},
        {"cover": [gate(name) for name in covers]},
        {"sensor": [measured(name, *told) for name, told in sensors.items()]},
        {"binary_sensor": [{"name": "Bin level", "state": full}]},
    ]
    number = {"min": 0, "max": 5000, "initial": 0}
    return (
        f"input_boolean: {json.dumps({name: {} for name in helpers})}\n"
        f"input_number: {json.dumps(dict.fromkeys(sensors, number))}\n"
        f"template: {json.dumps(template)}\n"
    )


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Pack the integration as a release does."""
    release = load_script(ROOT / "scripts/release")
    built: Path = release.build(ROOT, tmp_path_factory.mktemp("dist"))
    return built


def install(packed: Path, path: Path, extra_yaml: str = "") -> HubDirectory:
    """Return a configuration directory in which the store has unpacked a zip."""
    directory = prepare(path, components=[], extra_yaml=yaml_of() + extra_yaml)
    target = directory.path / "custom_components" / "gatewright"
    shutil.rmtree(target, ignore_errors=True)
    with ZipFile(packed) as zipped:
        zipped.extractall(target)
    return directory


# A clean Home Assistant -----------------------------------------------------------------


async def test_a_clean_home_assistant_runs_the_zip(
    packed: Path, tmp_path: Path
) -> None:
    async with AsyncExitStack() as stack:
        hub = await stack.enter_async_context(Hub(install(packed, tmp_path / "hub")))
        client = await stack.enter_async_context(hub.client())
        web = await stack.enter_async_context(aiohttp.ClientSession(hub.directory.url))
        entry_id = await set_up(client)
        await run_the_planer(client)
        await everything_is_served(client, web, entry_id)
        assert hub.troubles(all_starts=True) == []


async def set_up(client: HubClient) -> str:
    """Set the smallest shop up, by the forms; return the id of its entry."""
    form = await Form.add(client, "gatewright")
    await form.fill(switch="switch.collector_relay")
    await form.fill(machines=["sensor.planer_plug_power"])
    await form.fill(gates=["cover.planer_gate_actuator"])
    await form.fill()
    assert form.step == "create_entry", form.result
    entry_id: str = form.result["result"]["entry_id"]
    return entry_id


async def run_the_planer(client: HubClient) -> None:
    """Turn the machine on: its gate opens and the collector starts."""
    plug = "input_number.planer_plug_power"
    await client.call("input_number.set_value", plug, value=1400)
    await client.states.until_state("cover.planer_gate_actuator", "open")
    await client.states.until_state("switch.collector_relay", "on", 30 * PATIENCE)
    await client.states.until_state("binary_sensor.planer_collecting", "on")


async def everything_is_served(
    client: HubClient, web: aiohttp.ClientSession, entry_id: str
) -> None:
    """Ask for all that screens, voice and pages are made of."""
    command = client.socket.command
    for language in LANGUAGES:
        found = await command(
            "frontend/get_translations",
            language=language,
            category="config",
            integration=["gatewright"],
            config_flow=True,
        )
        title = "component.gatewright.config.step.machines.title"
        assert found["resources"][title], language
    titles = set()
    for category in ("entity", "entity_component"):
        icons = await command(
            "frontend/get_icons", category=category, integration="gatewright"
        )
        titles |= icons["resources"].keys()
    assert "gatewright" in titles
    services = await command("get_services")
    assert services["gatewright"]["get_summary"]["fields"]
    for kind in ("trigger", "condition"):
        offered = await command(f"{kind}_platforms/subscribe")
        assert offered is None
    assert (await client.converse("dust collection off"))["speech"]
    await modules_load(web, await entry_module(web))
    for page in ("setup.json", "runs.csv", "days.csv"):
        signed = await command(
            "auth/sign_path", path=f"/api/gatewright/{entry_id}/{page}"
        )
        async with web.get(signed["path"]) as answer:
            assert answer.status == 200, page
    for name in ("icon.png", "logo.png", "dark_icon.png"):
        token = await command("brands/access_token")
        path = f"/api/brands/integration/gatewright/{name}?token={token['token']}"
        async with web.get(path) as answer:
            assert answer.status == 200, name
            assert answer.content_type == "image/png"


async def entry_module(web: aiohttp.ClientSession) -> str:
    """Return the module that every page of Home Assistant loads."""
    async with web.get("/") as answer:
        found = re.search(r"/gatewright_static/[^\"']+\.js", await answer.text())
    assert found is not None
    return found[0]


async def modules_load(web: aiohttp.ClientSession, entry: str) -> None:
    """Follow every import of every module."""
    waiting, seen = [entry], set[str]()
    while waiting:
        if (address := waiting.pop()) in seen:
            continue
        seen.add(address)
        async with web.get(address) as answer:
            assert answer.status == 200, address
            text = await answer.text()
        waiting += [urljoin(address, name) for name in IMPORTS.findall(text)]
    integration = ROOT / "custom_components" / "gatewright" / "frontend"
    assert len(seen) == len([*integration.rglob("*.js")])


# From 0.1.0 -----------------------------------------------------------------------------


def rows() -> Iterator[Json]:
    """Yield the entities that 0.1.0 had registered, whole."""
    for row in LEFT["entities"]:
        yield {**LEFT["usual"], **row}


def leave(directory: HubDirectory) -> None:
    """Put what 0.1.0 left into a configuration directory."""
    entry_id = LEFT["entry"]["entry_id"]

    def store(key: str, of: str, data: Any) -> None:
        file = directory.path / ".storage" / key
        file.write_text(json.dumps({**LEFT[of], "key": key, "data": data}))

    store("core.config_entries", "entries", {"entries": [LEFT["entry"]]})
    store(
        "core.entity_registry",
        "registry",
        {
            "entities": [*rows()],
            "deleted_entities": [],
            "settings": {"entity_id_parts": None},
        },
    )
    store(
        "core.device_registry",
        "device_registry",
        {"devices": LEFT["devices"], "child_devices": [], "deleted_devices": []},
    )
    for key, file in LEFT["files"].items():
        assert entry_id in key
        (directory.path / ".storage" / key).write_text(json.dumps(file))
    (directory.path / "automations.yaml").write_text(json.dumps([AUTOMATION]))


async def old_names(client: HubClient) -> Json:
    """Wait for the repair about old names, which is looked for once all has started."""
    async with asyncio.timeout(30 * PATIENCE):
        while True:
            for issue in await client.issues("gatewright"):
                if issue["issue_id"] == "old_names":
                    return issue
            await asyncio.sleep(0.2)


async def test_an_owner_of_0_1_0_loses_nothing(packed: Path, tmp_path: Path) -> None:
    included = "automation: !include automations.yaml\n"
    directory = install(packed, tmp_path / "hub", included)
    leave(directory)
    async with AsyncExitStack() as stack:
        hub = await stack.enter_async_context(Hub(directory))
        client = await stack.enter_async_context(hub.client())
        states = client.states
        await states.until(
            lambda: states.state("sensor.dust_collector_phase") == "resting",
            30 * PATIENCE,
            what="the system",
        )
        (entry,) = await client.entries("gatewright")
        assert entry["state"] == "loaded"
        kept = {entity["id"]: entity for entity in await client.entities()}
        for row in rows():
            # Statistics and history hang on the entity id.
            assert row["id"] in kept, row["entity_id"]
            now = kept[row["id"]]
            for key in ("entity_id", "name", "icon", "device_id", "disabled_by"):
                assert now[key] == row[key], (row["entity_id"], key)
        # A gauge of a filter is read while the collector turns; what events say is kept
        # in a file of Home Assistant's own.
        left_out = ("sensor.dust_collector_filter_pressure", "event.", "button.")
        for entity_id, shown in LEFT["states"].items():
            if not entity_id.startswith(left_out):
                assert states.state(entity_id) == shown, entity_id
        issue = await old_names(client)
        told = issue["translation_placeholders"]["uses"]
        assert "[Clear the air after work](/config/automation/edit/break)" in told
        assert "`gatewright.request_air` → `gatewright.turn_on_collection`" in told
        assert "`resting` → `idle`" in told
        assert hub.troubles(all_starts=True) == []
