"""Fixtures for tests of the Home Assistant side."""

from collections.abc import Mapping
from dataclasses import replace
from importlib import import_module
import json
import math
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.core.config import COLLECTOR
from custom_components.gatewright.core.stored.config import StoredConfig
from custom_components.gatewright.core.stored.parts import StoredPart
from custom_components.gatewright.core.stored.system import StoredSystem
from custom_components.gatewright.entity import GatewrightEntity
from custom_components.gatewright.features.entities.subjects import CollectorSubject
from custom_components.gatewright.runtime.control_loop import ControlLoop
from custom_components.gatewright.runtime.entry_data import read_config
from custom_components.gatewright.runtime.journal import ENDING, MARK, Journal
from custom_components.gatewright.runtime.json_patch import applied
from custom_components.gatewright.runtime.updates import ChangedParts, Updates

from .spoken import open_shop
from .workshop import Workshop

MORNING = "2026-11-24T17:00:00+00:00"
"""A morning for the tests' Home Assistant, far from midnight: what was done "today" counts."""


@pytest.fixture
async def workshop(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Workshop:
    """Return a small workshop with everything idle and closed."""
    # Time is moved in the middle of steps: none of them is slow.
    hass.loop.slow_callback_duration = math.inf
    freezer.move_to(MORNING)
    workshop = Workshop(hass, freezer)
    await workshop.open()
    return workshop


OFF_AT_FIRST = frozenset(
    {
        "collected_share_day",
        "collected_share_month",
        "collected_share_week",
        "collecting_time",
        "filter_base",
        "filter_since_replaced",
        "low_airflow_time",
        "phase_ends",
        "time_to_air",
        "velocity",
    }
)
"""The entities that were disabled at first in version 0.1.0."""


@pytest.fixture(autouse=True)
def enabled_as_in_0_1_0(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Give every test the enabled entities of an owner since 0.1.0.

    A test marked `as_delivered` has those of a new owner.
    """
    if request.node.get_closest_marker("as_delivered") is not None:
        return

    def enabled(entity: GatewrightEntity) -> bool:
        key = entity.entity_description.key
        whole_system = isinstance(entity.subject, CollectorSubject)
        return key not in OFF_AT_FIRST or (
            whole_system and key.startswith("collected_share")
        )

    monkeypatch.setattr(
        GatewrightEntity, "entity_registry_enabled_default", property(enabled)
    )


@pytest.fixture(autouse=True)
def totals_shown_at_once(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Write totals at once in every test, unless it's marked `paced`."""
    if request.node.get_closest_marker("paced") is None:
        monkeypatch.setattr(GatewrightEntity, "_is_due", lambda _: True)


@pytest.fixture
def language() -> str:
    """Return the language of Home Assistant, unless a test says another one."""
    return "en"


@pytest.fixture
async def spoken_shop(
    hass: HomeAssistant, workshop: Workshop, language: str
) -> Workshop:
    """Return a workshop in Home Assistant's language, with voice."""
    await open_shop(hass, workshop, language, language)
    return workshop


@pytest.fixture(autouse=True)
def nothing_shown_is_out_of_date(monkeypatch: pytest.MonkeyPatch) -> None:
    """Check in every test that the parts that weren't visited look unchanged."""
    show = ControlLoop._show

    def checked(loop: ControlLoop, touched: ChangedParts, now: float) -> None:
        show(loop, touched, now)
        if not loop._again:
            assert not overlooked(loop._updates, now), "changed, and nobody was told"

    monkeypatch.setattr(ControlLoop, "_show", checked)


def overlooked(updates: Updates, now: float) -> list[str]:
    """Return the parts that look different from what their entities last saw."""
    sequence, alarms = updates._shop.sequence, updates._alarms()
    looks = {COLLECTOR: updates._collector(alarms, now)}
    looks |= {gate: updates._gate(gate, alarms, now) for gate in sequence.gates}
    looks |= {m: updates._machine(m, alarms, now) for m in sequence.machines}
    return [part for part, look in looks.items() if updates._seen.get(part) != look]


@pytest.fixture(autouse=True)
def journals_are_in_memory(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read back every line of a journal at once, where files are only in memory.

    Check that its file exists and that it fits.
    """
    if "hass" not in request.fixturenames or "disk" in request.fixturenames:
        return
    files: dict[str, Any] = request.getfixturevalue("hass_storage")

    def put(journal: Journal, lines: bytes, *, anew: bool) -> None:
        stored = files[journal.path.name.removesuffix(ENDING)]
        rows = [json.loads(line) for line in lines.splitlines()]
        if anew:
            assert rows.pop(0) == {MARK: stored["data"][MARK]}
        for row in rows:
            stored["data"] = applied(stored["data"], row)

    monkeypatch.setattr(Journal, "put", put)


@pytest.fixture(autouse=True)
def what_is_stored_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Check in every test that stored data is read completely and written back unchanged."""

    def checked(entry: ConfigEntry) -> StoredConfig:
        config = read_config(entry)
        _hold(config.system, entry.data, whole=not config.unread)
        for part_id, part in config.parts.items():
            _hold(part, entry.subentries[part_id].data, whole=True)
        return config

    # The package has a function of this name.
    module = import_module(
        "custom_components.gatewright.features.airflow.readable_config"
    )
    monkeypatch.setattr(module, "read_config", checked)


def _hold(
    kept: StoredSystem | StoredPart, data: Mapping[str, Any], *, whole: bool
) -> None:
    """Check that data is read `whole`, without errors, and written back unchanged."""
    assert kept.to_data() == data
    assert kept.with_data({}) == kept
    if whole:
        again = replace(kept, kept={})
        assert again.to_data().items() <= data.items()
        assert again.with_data({}) == kept
