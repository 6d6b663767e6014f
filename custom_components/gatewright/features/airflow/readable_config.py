"""Finds the usable part of a config entry, and reports the rest to the owner.

An entry may be damaged, hand-edited, or written by another version. An unreadable part
is left out alone; an unreadable value of the collector counts as missing. A repair
names each, and the entry stays as stored.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...const import CONF_DIAMETER, CONF_FAN_POINTS, CONF_FREE_FLOW
from ...core.airflow import AirflowError
from ...core.config import ConfigError
from ...core.stored.config import StoredConfig, Unread
from ...core.stored.system import StoredAir, StoredSystem
from ...core.stored.table import UnreadableError, defaults_of, readable_in
from ...runtime.config_loader import LoadedConfig, load_config
from ...runtime.entry_data import read_config
from ...runtime.issues import keep_errors
from .ducts import read_air, read_fan


def readable(hass: HomeAssistant, entry: ConfigEntry[Any]) -> StoredConfig:
    """Return the usable part of a config entry.

    Raises `UnreadableError` if its collector can't be used.
    """
    return load_readable(hass, entry)[0]


def load_readable(
    hass: HomeAssistant, entry: ConfigEntry[Any]
) -> tuple[StoredConfig, LoadedConfig]:
    """Return the usable part of a config entry, and its layout.

    Raises `UnreadableError` if its collector can't be used.
    """
    config, layout = _with_plan(hass, _with_fan(read_config(entry)))
    # Whatever is dropped from the ducts isn't in the layout anyway.
    return _with_air(hass, config), layout


def readable_data(entry: ConfigEntry[Any]) -> Mapping[str, Any]:
    """Return the readable part of a collector's data, for a form to show."""
    try:
        system = StoredSystem.from_data(entry.data)
    except UnreadableError:
        return entry.data
    odd = _odd_figures(system.air)
    good = readable_in(StoredSystem, entry.data)
    return defaults_of(StoredSystem) | {k: v for k, v in good.items() if k not in odd}


def _odd_figures(air: StoredAir) -> tuple[str, ...]:
    """Return the keys of fan figures that contradict each other."""
    try:
        read_fan(air)
    except Exception:  # noqa: BLE001 - whatever is wrong with it
        if air.fan_points:
            return (CONF_FAN_POINTS, *_odd_figures(replace(air, fan_points=())))
        return (CONF_FREE_FLOW,)
    return ()


def _with_fan(config: StoredConfig) -> StoredConfig:
    """Return a system without contradictory fan figures."""
    system = config.system
    odd = _odd_figures(system.air)
    air = replace(
        system.air,
        fan_points=() if CONF_FAN_POINTS in odd else system.air.fan_points,
        free_flow=None if CONF_FREE_FLOW in odd else system.air.free_flow,
    )
    return replace(
        config,
        system=replace(system, air=air),
        unread=(*config.unread, *(Unread(None, system.name, what) for what in odd)),
    )


def _with_plan(
    hass: HomeAssistant, config: StoredConfig
) -> tuple[StoredConfig, LoadedConfig]:
    """Leave out the parts that the plan rejects, one after the other."""
    while True:
        try:
            layout = load_config(hass, config)
        except ConfigError as err:
            blamed = [p for p in err.problems if p.part in config.parts]
            if not blamed:
                config = _with_usual_times(config, err)
            for problem in blamed:
                if problem.part in config.parts:
                    config = config.without(problem.part, problem.field)
        else:
            return config, layout


def _with_usual_times(config: StoredConfig, err: ConfigError) -> StoredConfig:
    """Use the default times for the collector, unless it has them already."""
    usual = defaults_of(StoredSystem)
    data = config.system.to_data()
    changed = [key for key, value in usual.items() if data.get(key, value) != value]
    if not changed:
        raise UnreadableError(err.problems[0].field) from err
    system = config.system
    return replace(
        config,
        system=StoredSystem.from_data(
            {**data, **usual}, part_id=system.part_id, name=system.name
        ),
        unread=(*config.unread, *(Unread(None, system.name, key) for key in changed)),
    )


def _with_air(hass: HomeAssistant, config: StoredConfig) -> StoredConfig:
    """Leave out ducts that make the calculation fail.

    Figures may be readable and still contradict each other: that's reported where
    they're computed. Only ducts that raise anything else are left out here.
    """
    while True:
        try:
            read_air(hass, config)
        except AirflowError as err:
            if err.element not in config.ducts:
                return config
            config = config.without(err.element, err.code.removesuffix("_range"))
        except Exception:  # noqa: BLE001 - whatever is wrong with it
            if not config.ducts:
                return config
            for duct_id in config.ducts:
                config = config.without(duct_id, CONF_DIAMETER)
        else:
            return config


@callback
def report_unreadable(
    hass: HomeAssistant, entry: ConfigEntry[Any], unread: tuple[Unread, ...]
) -> None:
    """Raise a repair for each unreadable value, and delete those that are fixed."""
    prefix = f"unreadable_{entry.entry_id}_"
    issues = {
        f"{prefix}{loss.part or ''}_{loss.what}": (
            "unreadable_value" if loss.part is None else "unreadable_part",
            {"name": loss.name, "system": entry.title, "value": loss.what},
        )
        for loss in unread
    }
    keep_errors(hass, prefix, issues)
