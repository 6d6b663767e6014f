"""A system as it might be set up: the stored settings with some changes."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from ...const import (
    CONF_HOLD,
    CONF_SHUTOFF_DELAY,
    CONF_SPIN_DOWN,
    CONF_START,
    CONF_START_CONFIRM,
    CONF_STOP,
    CONF_STOP_CONFIRM,
)
from ...core.config import SystemConfig
from ...core.stored.config import StoredConfig
from ...core.stored.parts import StoredMachine

COLLECTOR_SETTINGS = (CONF_SHUTOFF_DELAY, CONF_SPIN_DOWN)
LEVEL_SETTINGS = (CONF_START, CONF_STOP)
MACHINE_SETTINGS = (CONF_HOLD, *LEVEL_SETTINGS, CONF_START_CONFIRM, CONF_STOP_CONFIRM)


def proposed_config(
    config: StoredConfig,
    *,
    collector: Mapping[str, Any] = MappingProxyType({}),
    machines: Mapping[str, Mapping[str, Any]] = MappingProxyType({}),
) -> StoredConfig:
    """Return a system with changed settings of its collector and machines."""
    return replace(
        config,
        system=config.system.with_data(collector),
        parts={
            part_id: part.with_data(changed)
            if (changed := machines.get(part_id))
            else part
            for part_id, part in config.parts.items()
        },
    )


def propose_machine(
    config: StoredConfig, machine_id: str, title: str, data: Mapping[str, Any]
) -> StoredConfig:
    """Return a system with a machine as a form would store it, new or existing."""
    return config.with_part(
        StoredMachine.from_data(data, part_id=machine_id, name=title)
    )


def can_simulate(system: SystemConfig) -> SystemConfig:
    """Return a plan without limits that recorded readings can't test.

    A recorder keeps only changes, so a steady reading and a stale one look the same:
    `stale_after` doesn't apply.
    """
    return replace(
        system,
        machines=tuple(
            machine
            if machine.levels is None
            else replace(machine, levels=replace(machine.levels, stale_after=None))
            for machine in system.machines
        ),
    )
