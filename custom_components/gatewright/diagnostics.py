"""Everything that a reader who has never seen the workshop needs for a bug report."""

from collections.abc import Iterator, Mapping
from typing import Any

from homeassistant.components.diagnostics import async_redact_data
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import (
    ATTR_ASSUMED_STATE,
    ATTR_DEVICE_CLASS,
    ATTR_SUPPORTED_FEATURES,
    ATTR_UNIT_OF_MEASUREMENT,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.helpers.device_registry import DeviceEntry
from homeassistant.util import dt as dt_util

from .const import CONF_ALTITUDE, CONF_PHONES, DOMAIN
from .core.control.actuator import Actuator
from .core.control.faults import conditions
from .core.control.machine import Machine
from .core.control.sequence import Sequence
from .core.stored.table import UnreadableError
from .features.setup_file.exporting import exported
from .runtime.entity_references import to_entity_id
from .runtime.system_context import GatewrightConfigEntry, SystemContext
from .system import System, running

_REDACTED = {CONF_ALTITUDE, CONF_PHONES}
"""Reveals where the workshop is, or whose it is."""

_RUNS = 20
"""How many of the last runs to include."""

_INCLUDED = (
    ATTR_ASSUMED_STATE,
    ATTR_DEVICE_CLASS,
    ATTR_SUPPORTED_FEATURES,
    ATTR_UNIT_OF_MEASUREMENT,
)


async def async_get_config_entry_diagnostics(
    hass: HomeAssistant, entry: GatewrightConfigEntry
) -> dict[str, Any]:
    """Return one system's settings, inputs, conclusions and targets.

    Conclusions and targets are left out while the system isn't loaded. The settings
    matter most then.
    """
    loaded = entry.state is ConfigEntryState.LOADED
    return {
        "entry": {
            "state": entry.state.value,
            "data": async_redact_data(dict(entry.data), _REDACTED),
            "options": async_redact_data(dict(entry.options), _REDACTED),
            "subentries": [
                {
                    "id": subentry.subentry_id,
                    "type": subentry.subentry_type,
                    "title": subentry.title,
                    "data": async_redact_data(dict(subentry.data), _REDACTED),
                }
                for subentry in entry.subentries.values()
            ],
        },
        "setup": await _setup(hass, entry),
        "entities": _entity_states(hass, entry),
        **(_runtime_data(running(entry)) if loaded else {}),
        "issues": sorted(
            f"{issue.translation_key}: {issue_id}"
            for (domain, issue_id), issue in ir.async_get(hass).issues.items()
            if domain == DOMAIN and issue.active and entry.entry_id in issue_id
        ),
    }


async def _setup(
    hass: HomeAssistant, entry: GatewrightConfigEntry
) -> dict[str, Any] | None:
    """Return the set-up as a file that another Home Assistant can import."""
    try:
        return await exported(hass, entry, redact=True)
    except UnreadableError:
        return None


async def async_get_device_diagnostics(
    hass: HomeAssistant, entry: GatewrightConfigEntry, device: DeviceEntry
) -> dict[str, Any]:
    """Return the whole system: a machine or gate alone explains nothing."""
    return {
        "asked_about": [
            part for domain, part in device.identifiers if domain == DOMAIN
        ],
        **await async_get_config_entry_diagnostics(hass, entry),
    }


def _runtime_data(runtime: System) -> dict[str, Any]:
    """Return what a running system concludes, and its targets."""
    system = runtime.context
    now = system.now()
    sequence = system.sequence
    return {
        "missing": [
            {"part": loss.part, "what": loss.what} for loss in system.layout.missing
        ],
        "sequence": {
            "phase": sequence.phase.value,
            "demanding": list(sequence.demanding),
            "wanted_gates": sorted(sequence.wanted_gates()),
            "impeller_may_turn": sequence.impeller_may_turn(now),
            "starved": sequence.no_gate_coming(now),
            "next_look_in": None
            if system.shop.wake is None
            else system.shop.wake - now,
        },
        "machines": {
            machine_id: _work(system, run, now)
            for machine_id, run in sequence.machines.items()
        },
        "actuators": {
            part: _actuator_data(actuator, now)
            for part in runtime.loop.outputs.drivers
            if (actuator := system.sequence.actuator(part)) is not None
        },
        "measured": _measured(sequence, now),
        "wrong_now": [[kind.value, part] for kind, part in conditions(sequence, now)],
        "memory": runtime.memory(),
        "last_runs": [
            {
                "machine": run.machine_id,
                "ended_ago": dt_util.utcnow().timestamp() - run.ended,
                "run_time": run.run_time,
                "air_time": run.collecting_time,
                "cuts": run.cuts,
                "without": {why.value: spent for why, spent in run.without.items()},
            }
            for run in list(runtime.record.keeper.record.runs)[-_RUNS:]
        ],
    }


def _measured(sequence: Sequence, now: float) -> dict[str, Any]:
    """Return the measured motor start and gate strokes, in s."""
    motor = sequence.motor
    travels = {gate: sequence.gates.travel(gate) for gate in sequence.gates}
    return {
        "spin_up": motor.spin_up,
        "spin_ups": motor.spin_up_meter.kept,
        "gates": {
            gate: travel.remember(now)
            for gate, travel in travels.items()
            if travel is not None
        },
    }


def _work(system: SystemContext, run: Machine, now: float) -> dict[str, Any]:
    """Return how a machine is classified, and how its plug reports."""
    sensor = run.sensor
    work: dict[str, Any] = {
        "phase": run.phase.value,
        "requested": run.requested,
        "attached": run.is_connected,
        "has_air": system.sequence.is_collecting(run.plan.machine_id, now),
    }
    if sensor is not None:
        work |= {
            "running": sensor.running,
            "starting": sensor.starting,
            "stopping": sensor.stopping,
            "missing": sensor.missing,
            "lost": sensor.lost,
            "stuck": sensor.stuck,
            "report_interval": sensor.report_interval,
            "settles_too_soon": sensor.settles_too_soon,
        }
    return work


def _actuator_data(actuator: Actuator, now: float) -> dict[str, Any]:
    order = actuator.order
    return {
        "want": actuator.target,
        "reported": actuator.reported,
        "stands": actuator.state_at(now),
        "reachable": actuator.reachable,
        "failed": actuator.failed,
        "order": None if order is None else order.target,
        "time_left": None if actuator.due is None else actuator.due - now,
    }


def _entity_states(hass: HomeAssistant, entry: GatewrightConfigEntry) -> dict[str, Any]:
    """Return the state of every entity that the system refers to."""
    data = {key: value for key, value in entry.data.items() if key != CONF_PHONES}
    settings = [data, *(subentry.data for subentry in entry.subentries.values())]
    registry = er.async_get(hass)
    known = {
        stored: entity_id
        for stored in _texts(settings)
        if (entity_id := to_entity_id(hass, stored)) is not None
    }
    return {
        stored: {
            "entity_id": entity_id,
            "platform": found.platform
            if (found := registry.async_get(stored))
            else None,
            **_state(hass, entity_id),
        }
        for stored, entity_id in known.items()
    }


def _state(hass: HomeAssistant, entity_id: str) -> dict[str, Any]:
    if (state := hass.states.get(entity_id)) is None:
        return {"state": None}
    return {
        "state": state.state,
        "attributes": {
            key: state.attributes[key] for key in _INCLUDED if key in state.attributes
        },
        "reported_ago": (dt_util.utcnow() - state.last_reported).total_seconds(),
        "changed_ago": (dt_util.utcnow() - state.last_changed).total_seconds(),
    }


def _texts(data: Any) -> Iterator[str]:
    """Yield every text in nested data."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        for value in data.values():
            yield from _texts(value)
    elif isinstance(data, (list, tuple)):
        for value in data:
            yield from _texts(value)
