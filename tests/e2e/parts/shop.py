"""The workshop of real parts in a Home Assistant, set up like an owner: through the forms."""

import asyncio
from collections.abc import AsyncGenerator, Callable, Mapping
from contextlib import AsyncExitStack, asynccontextmanager
from pathlib import Path
from typing import Any

from aiohttp import web

from demo.forms import SAVED, Form
from demo.hub import Hub
from demo.hub_client import HubClient, Json
from demo.hub_directory import ROOT, prepare
from demo.hub_log import LogEntry
from demo.hub_states import PATIENCE
from demo.ports import HOST

from .broker import Broker
from .devices import Devices
from .phone import Phone

SYSTEM = "Dust collector"
BLUEPRINTS = ROOT / "blueprints" / "automation" / "gatewright"

SHUTOFF_DELAY = 1.0
FILTER_LIMIT = 1500.0
SPIN_DOWN = 1.0
QUICK = {
    "detection": {"start_settle": 1.0, "stop_settle": 1.5},
    "afterwards": {"hold": 0.0},
}

_YAML = """\
automation: !include automations.yaml
"""


class PartsShop:
    """Everything that can be done and seen in the workshop of real parts."""

    client: HubClient
    entry_id: str
    phone_id: str
    device_id: str
    """The device of the collector."""

    def __init__(
        self, hub: Hub, broker: Broker, devices: Devices, phone: Phone, site: str
    ) -> None:
        """Use a running Home Assistant that is still empty."""
        self.hub = hub
        self.broker = broker
        self.devices = devices
        self.phone = phone
        self._site = site
        self._entities: dict[str, str] = {}
        self._door = AsyncExitStack()

    async def enter(self) -> None:
        """Connect to Home Assistant."""
        self.client = await self._door.enter_async_context(self.hub.client())

    async def leave(self) -> None:
        """Disconnect from Home Assistant."""
        await self._door.aclose()

    async def restart(self) -> None:
        """Restart Home Assistant properly, and wait until it sees the devices again."""
        await self.leave()
        await self.hub.restart()
        await self.enter()
        await self._until_seen()

    async def set_up(self) -> None:
        """Add the broker, the system and the phone to Home Assistant."""
        client = self.client
        form = await Form.add(client, "mqtt")
        await form.fill(
            broker=HOST, port=self.broker.port, set_ca_cert="off", set_client_cert=False
        )
        assert form.step == "create_entry", form.result
        await self._until_seen()
        self.entry_id = await self._add_system()
        self.phone_id = await self.phone.register(client)
        self._entities = await client.entity_ids("gatewright")
        # Disabled at first: a trigger would enable the phases, but take half a minute.
        await client.enable(
            [
                entity_id
                for unique_id, entity_id in self._entities.items()
                if unique_id.endswith(("_phase", "_bin_emptied_at"))
            ]
        )
        self.device_id = await self.device_of(self.own("phase"))
        await client.states.until_state(self.own("phase"), "idle")

    async def _until_seen(self) -> None:
        states = self.client.states
        await states.until(
            lambda: all(
                states.state(entity) not in {None, "unknown", "unavailable"}
                for entity in SEEN
            ),
            what="every device of the broker",
        )

    async def _add_system(self) -> str:
        form = await Form.add(self.client, "gatewright")
        await form.fill(
            name=SYSTEM,
            switch="switch.collector_relay",
            power="sensor.collector_relay_power",
        )
        await form.fill(
            machines=["sensor.planer_plug_power", "sensor.table_saw_plug_power"],
            pickups=["Floor sweep"],
        )
        await form.fill(
            gates=[
                "cover.planer_gate_actuator",
                "valve.table_saw_gate_actuator",
                "switch.floor_sweep_gate_relay",
            ]
        )
        while form.step == "machine":
            await form.fill()
        assert form.step == "create_entry", form.result
        entry_id: str = form.result["result"]["entry_id"]
        form = await Form.settings(self.client, entry_id, "collector")
        gates = form.choices("hand_gates")
        pages: dict[str, dict[str, Any]] = {
            "collector": {"hand_gates": [gates["Floor sweep gate"]]},
            "timing": {"run_on": SHUTOFF_DELAY, "coast": SPIN_DOWN},
            "bin": {"bin_full": "binary_sensor.bin_level"},
            "filter": {
                "filter_pressure": "sensor.filter_gauge",
                "filter_limit": FILTER_LIMIT,
            },
        }
        for page, answers in pages.items():
            form = await Form.settings(self.client, entry_id, page)
            await form.fill(**answers)
            assert form.step == SAVED, form.result
        for machine in ("Planer", "Table saw"):
            # The plugs report twice a second: nothing has to be waited for longer.
            machine_id = await self._part_id(entry_id, machine)
            for page, answers in QUICK.items():
                form = await Form.change_part(
                    self.client, entry_id, "machine", machine_id, page
                )
                await form.fill(**answers)
                assert form.step == "reconfigure_successful", form.result
        return entry_id

    async def _part_id(self, entry_id: str, title: str) -> str:
        """Return the id of a gate or machine."""
        for part in await self.client.subentries(entry_id):
            if part["title"] == title:
                found: str = part["subentry_id"]
                return found
        raise LookupError(title)

    def own(self, key: str) -> str:
        """Return Gatewright's entity of the system."""
        return self._entities[f"{self.entry_id}_{key}"]

    async def device_of(self, entity_id: str) -> str:
        """Return the device of an entity."""
        (found,) = [
            entity["device_id"]
            for entity in await self.client.entities()
            if entity["entity_id"] == entity_id
        ]
        return str(found)

    async def until(
        self, wanted: Callable[[], bool], what: str, timeout: float = 20.0
    ) -> None:
        """Wait for a condition of the devices; raises `TimeoutError`."""
        timeout *= PATIENCE
        try:
            async with asyncio.timeout(timeout):
                while not wanted():  # noqa: ASYNC110 - The devices have a thread of their own.
                    await asyncio.sleep(0.02)
        except TimeoutError:
            raise TimeoutError(f"{what} did not happen within {timeout:g} s") from None

    async def until_pushed(self, title: str, since: int, timeout: float = 20.0) -> Json:
        """Wait for a push with a title after so many others; return it."""
        await self.until(
            lambda: any(p.get("title") == title for p in self.phone.pushes[since:]),
            f"the push {title!r}",
            timeout,
        )
        return next(p for p in self.phone.pushes[since:] if p.get("title") == title)

    async def tidy_up(self) -> None:
        """Turn off what a test left on, and wait until everything is at rest."""
        devices = self.devices
        for machine in tuple(devices.running):
            devices.rest(machine)
        if devices.bin_full:
            devices.fill_bin(full=False)
        if devices.collector_on:
            await self.client.call("switch.turn_off", self.own("collector"))
        await self.until_resting()

    async def until_resting(self) -> None:
        """Wait until nothing turns or moves."""
        await self.client.states.until_state(self.own("phase"), "idle")
        await self.until(lambda: not self.devices.collector_on, "the end of the air")

    async def automate(self, key: str, config: Mapping[str, Any]) -> None:
        """Save an automation like the editor, and wait until it listens."""
        await self.client.request(
            "POST", f"config/automation/config/{key}", {"alias": key, **config}
        )
        await self.client.states.until_state(f"automation.{key}", "on")

    async def import_blueprint(self, name: str) -> str:
        """Import a blueprint by its URL, like the import dialog; return its path."""
        command = self.client.socket.command
        found = await command("blueprint/import", url=f"{self._site}/{name}.yaml")
        assert found["validation_errors"] is None, found
        path = f"gatewright/{name}.yaml"
        await command(
            "blueprint/save",
            domain="automation",
            path=path,
            yaml=found["raw_data"],
            source_url=f"{self._site}/{name}.yaml",
            allow_override=True,
        )
        return path

    async def use_blueprint(self, name: str, **inputs: Any) -> None:
        """Import a blueprint and make an automation of it."""
        path = await self.import_blueprint(name)
        await self.automate(name, {"use_blueprint": {"path": path, "input": inputs}})


def expected(trouble: LogEntry) -> bool:
    """Return whether a log entry is expected: that Home Assistant lost its broker."""
    mqtt = trouble.logger == "homeassistant.components.mqtt.client"
    return mqtt and trouble.level == "WARNING" and "Traceback" not in trouble.text


SEEN = (
    "sensor.planer_plug_power",
    "sensor.table_saw_plug_power",
    "sensor.collector_relay_power",
    "switch.collector_relay",
    "switch.floor_sweep_gate_relay",
    "cover.planer_gate_actuator",
    "valve.table_saw_gate_actuator",
    "binary_sensor.bin_level",
    "sensor.filter_gauge",
    "switch.air_cleaner",
)
"""The devices' names in Home Assistant."""


@asynccontextmanager
async def site() -> AsyncGenerator[str]:
    """Serve the blueprints like a repository; yields the URL of their folder."""
    application = web.Application()
    application.router.add_static("/blueprints", BLUEPRINTS)
    runner = web.AppRunner(application)
    await runner.setup()
    try:
        await web.TCPSite(runner, HOST, 0).start()
        yield f"http://{HOST}:{runner.addresses[0][1]}/blueprints"
    finally:
        await runner.cleanup()


@asynccontextmanager
async def parts_shop(path: Path) -> AsyncGenerator[PartsShop]:
    """Yield the workshop, at rest and set up; at the end the log has to be clean."""
    async with AsyncExitStack() as stack:
        broker = await stack.enter_async_context(Broker(path))
        devices = Devices(broker.port)
        devices.start()
        stack.callback(devices.stop)
        phone = await stack.enter_async_context(Phone())
        address = await stack.enter_async_context(site())
        directory = prepare(
            path / "hub",
            components=["gatewright"],
            integrations=["mobile_app"],
            extra_yaml=_YAML,
        )
        (directory.path / "automations.yaml").write_text("[]\n", "utf-8")
        hub = await stack.enter_async_context(Hub(directory))
        shop = PartsShop(hub, broker, devices, phone, address)
        stack.push_async_callback(shop.leave)
        await shop.enter()
        await shop.set_up()
        yield shop
        troubles = [
            trouble
            for trouble in hub.troubles(all_starts=True)
            if not expected(trouble)
        ]
        assert not troubles, troubles
