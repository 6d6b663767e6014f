"""Automations made from this repository's blueprints, and a phone they push to."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from pathlib import Path
from typing import Any
from unittest.mock import PropertyMock, patch

from homeassistant.components.blueprint.models import DomainBlueprints
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.test_util.aiohttp import AiohttpClientMocker

from ..workshop import Workshop

DAY = timedelta(days=1)
BIN = "binary_sensor.bin_full"
AIR_SUPPLY = "binary_sensor.air_supply_low"

ROOT = Path(__file__).parents[3] / "blueprints" / "automation"
FOLDER = ROOT / "gatewright"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))

PUSH_URL = "http://127.0.0.1/push"


@contextmanager
def blueprints_here() -> Iterator[None]:
    """Let Home Assistant find its blueprints in this repository."""
    with patch.object(
        DomainBlueprints, "blueprint_folder", PropertyMock(return_value=ROOT)
    ):
        yield


async def automate(hass: HomeAssistant, name: str, **inputs: Any) -> str:
    """Make an automation from a blueprint; return its entity."""
    use = {"path": f"gatewright/{name}.yaml", "input": inputs}
    config = {"id": name, "alias": name, "use_blueprint": use}
    assert await async_setup_component(hass, "automation", {"automation": [config]})
    await hass.async_block_till_done()
    entity_id = f"automation.{name}"
    state = hass.states.get(entity_id)
    assert state is not None
    assert state.state == "on"
    return entity_id


def collector_device(hass: HomeAssistant, entry: MockConfigEntry) -> str:
    """Return the device of a system's collector."""
    device = dr.async_get(hass).async_get_device_by_identifier(
        ("gatewright", entry.entry_id), entry.entry_id
    )
    assert device is not None
    return device.id


class FakePhone:
    """A registered phone, whose pushes are caught."""

    def __init__(self, hass: HomeAssistant, mocker: AiohttpClientMocker) -> None:
        """Unregistered until `register`."""
        self._hass = hass
        self._mocker = mocker
        self._seen = 0
        self.device_id = ""

    async def register(self, name: str = "Pocket") -> None:
        """Register the phone with Home Assistant."""
        self._mocker.post(PUSH_URL, status=HTTPStatus.CREATED, json={})
        entry = MockConfigEntry(
            domain="mobile_app",
            data={
                "app_data": {"push_token": name, "push_url": PUSH_URL},
                "app_id": "workshop.pocket",
                "app_name": "Pocket app",
                "app_version": "1.0",
                "device_id": name,
                "device_name": name,
                "manufacturer": "Alder",
                "model": "One",
                "os_name": "Pocket",
                "os_version": "1.0",
                "supports_encryption": False,
                "user_id": "owner",
                "webhook_id": f"webhook-{name}",
            },
        )
        entry.add_to_hass(self._hass)
        assert await async_setup_component(self._hass, "mobile_app", {})
        await self._hass.async_block_till_done()
        (device,) = dr.async_entries_for_config_entry(
            dr.async_get(self._hass), entry.entry_id
        )
        self.device_id = device.id

    def pushes(self) -> list[dict[str, Any]]:
        """Return the pushes since the last call."""
        calls = self._mocker.mock_calls[self._seen :]
        self._seen += len(calls)
        return [call[2] for call in calls]

    def tap(self, push: dict[str, Any], title: str) -> None:
        """Tap the button of a push with this label."""
        (action,) = [
            action["action"]
            for action in push["data"]["actions"]
            if action["title"] == title
        ]
        self._hass.bus.async_fire(
            "mobile_app_notification_action",
            {"action": action, "tag": push["data"]["tag"]},
        )


async def put(workshop: Workshop, entity_id: str, state: str) -> None:
    """Set a state and let everything follow that does not wait."""
    workshop.put(entity_id, state)
    await workshop.settle()


def since_midnight() -> timedelta:
    """Return the time of day."""
    now = datetime.now(UTC)
    return now - now.replace(hour=0, minute=0, second=0, microsecond=0)
