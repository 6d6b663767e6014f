"""A system as it might be set up: the stored settings with some of them changed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from homeassistant.config_entries import ConfigSubentry

from ..const import (
    CONF_COAST,
    CONF_HOLD,
    CONF_RUN_ON,
    CONF_START,
    CONF_START_SETTLE,
    CONF_STOP,
    CONF_STOP_SETTLE,
    SUBENTRY_MACHINE,
)
from ..planning import Described
from ..shop.plan import System

COLLECTOR_SETTINGS = (CONF_RUN_ON, CONF_COAST)
LEVEL_SETTINGS = (CONF_START, CONF_STOP)
MACHINE_SETTINGS = (CONF_HOLD, *LEVEL_SETTINGS, CONF_START_SETTLE, CONF_STOP_SETTLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A system that is not stored anywhere; read like a config entry."""

    entry_id: str
    title: str
    data: Mapping[str, Any]
    subentries: Mapping[str, ConfigSubentry]

    def get_subentries_of_type(self, subentry_type: str) -> list[ConfigSubentry]:
        """Return the parts of one type."""
        return [
            part
            for part in self.subentries.values()
            if part.subentry_type == subentry_type
        ]


def propose(
    entry: Described,
    *,
    collector: Mapping[str, Any] = MappingProxyType({}),
    machines: Mapping[str, Mapping[str, Any]] = MappingProxyType({}),
) -> Proposal:
    """Return a system with some settings of its collector and machines changed."""
    return Proposal(
        entry_id=entry.entry_id,
        title=entry.title,
        data={**entry.data, **collector},
        subentries={
            part_id: _with(part, {**part.data, **machines.get(part_id, {})}, part.title)
            for part_id, part in entry.subentries.items()
        },
    )


def propose_machine(
    entry: Described, machine_id: str, title: str, data: Mapping[str, Any]
) -> Proposal:
    """Return a system with a machine as a form would store it, a new one or an old."""
    proposal = propose(entry)
    before = entry.subentries.get(machine_id)
    machine = (
        ConfigSubentry(
            data=MappingProxyType(dict(data)),
            subentry_id=machine_id,
            subentry_type=SUBENTRY_MACHINE,
            title=title,
            unique_id=None,
        )
        if before is None
        else _with(before, data, title)
    )
    return replace(proposal, subentries={**proposal.subentries, machine_id: machine})


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


def _with(part: ConfigSubentry, data: Mapping[str, Any], title: str) -> ConfigSubentry:
    return ConfigSubentry(
        data=MappingProxyType(dict(data)),
        subentry_id=part.subentry_id,
        subentry_type=part.subentry_type,
        title=title,
        unique_id=part.unique_id,
    )
