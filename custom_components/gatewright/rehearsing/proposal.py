"""A system as it might be set up: the stored settings with some of them changed."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from ..const import (
    CONF_COAST,
    CONF_HOLD,
    CONF_RUN_ON,
    CONF_START,
    CONF_START_SETTLE,
    CONF_STOP,
    CONF_STOP_SETTLE,
)
from ..shop.plan import System
from ..stored.config import StoredConfig
from ..stored.parts import StoredMachine

COLLECTOR_SETTINGS = (CONF_RUN_ON, CONF_COAST)
LEVEL_SETTINGS = (CONF_START, CONF_STOP)
MACHINE_SETTINGS = (CONF_HOLD, *LEVEL_SETTINGS, CONF_START_SETTLE, CONF_STOP_SETTLE)


def propose(
    config: StoredConfig,
    *,
    collector: Mapping[str, Any] = MappingProxyType({}),
    machines: Mapping[str, Mapping[str, Any]] = MappingProxyType({}),
) -> StoredConfig:
    """Return a system with some settings of its collector and machines changed."""
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
    """Return a system with a machine as a form would store it, a new one or an old."""
    return config.with_part(
        StoredMachine.from_data(data, part_id=machine_id, name=title)
    )


def rehearsable(system: System) -> System:
    """Return a plan without what recorded readings cannot tell.

    A recorder keeps changes only, so a reading that stood still and one that was not
    renewed look the same: no limit is set to its silence.
    """
    return replace(
        system,
        machines=tuple(
            machine
            if machine.levels is None
            else replace(machine, levels=replace(machine.levels, silence=None))
            for machine in system.machines
        ),
    )
