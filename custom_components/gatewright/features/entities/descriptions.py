"""Entity descriptions: one type for each platform, for all features.

A feature adds a table of descriptions; its platform creates an entity of each for every
matching part. `S` is the part's subject.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from homeassistant.components.binary_sensor import BinarySensorEntityDescription
from homeassistant.components.button import ButtonEntityDescription
from homeassistant.components.cover import CoverEntityDescription
from homeassistant.components.event import EventEntityDescription
from homeassistant.components.select import SelectEntityDescription
from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.components.switch import SwitchEntityDescription
from homeassistant.const import (
    PERCENTAGE,
    EntityCategory,
    UnitOfEnergy,
    UnitOfPressure,
    UnitOfTime,
)
from homeassistant.core import CALLBACK_TYPE
from homeassistant.helpers.entity import EntityDescription
from homeassistant.helpers.typing import StateType

from .subjects import Listener, Subject

type Value = StateType | date | datetime
type Follow[S] = Callable[[S, Listener], CALLBACK_TYPE]
type Fire = Callable[[str, dict[str, Any]], None]
"""Takes an event's type and attributes."""


AIRFLOW: tuple[Follow[Subject], ...] = (
    Subject.listen,
    lambda subject, listener: subject.airflow.listen(listener),
)
STATISTICS: tuple[Follow[Subject], ...] = (
    Subject.listen,
    lambda subject, listener: subject.statistics.listen(listener),
)
MAINTENANCE: tuple[Follow[Subject], ...] = (
    lambda subject, listener: subject.maintenance.listen_to(listener),
)

DIAGNOSTIC: Mapping[str, Any] = {"entity_category": EntityCategory.DIAGNOSTIC}
CONFIG: Mapping[str, Any] = {"entity_category": EntityCategory.CONFIG}
DISABLED: Mapping[str, Any] = {"entity_registry_enabled_default": False}
"""Disabled until somebody who needs it enables it.

What most people view or automate is enabled: the cards get their figures from the
system itself.
"""
MEASURED: Mapping[str, Any] = {"state_class": SensorStateClass.MEASUREMENT}
GROWING: Mapping[str, Any] = {"state_class": SensorStateClass.TOTAL_INCREASING}
INSTANT: Mapping[str, Any] = {"device_class": SensorDeviceClass.TIMESTAMP}
SHARE: Mapping[str, Any] = {**MEASURED, "native_unit_of_measurement": PERCENTAGE}
TOTALED: Mapping[str, Any] = {"due_fn": lambda _: False}
"""A total, or a figure derived from one: written at the end of every five minutes."""
HOURS: Mapping[str, Any] = {
    **GROWING,
    **TOTALED,
    "device_class": SensorDeviceClass.DURATION,
    "native_unit_of_measurement": UnitOfTime.SECONDS,
    "suggested_unit_of_measurement": UnitOfTime.HOURS,
    "suggested_display_precision": 2,
}
"""A total of seconds, shown in hours."""
ENERGY: Mapping[str, Any] = {
    **GROWING,
    **TOTALED,
    "device_class": SensorDeviceClass.ENERGY,
    "native_unit_of_measurement": UnitOfEnergy.KILO_WATT_HOUR,
}
PASCALS: Mapping[str, Any] = {
    **MEASURED,
    "device_class": SensorDeviceClass.PRESSURE,
    "native_unit_of_measurement": UnitOfPressure.PA,
    "suggested_display_precision": 0,
}


def one_of(values: Iterable[str]) -> Mapping[str, Any]:
    """Return the arguments of a sensor with one of a few states."""
    return {"device_class": SensorDeviceClass.ENUM, "options": [str(v) for v in values]}


def always(_: Any) -> bool:
    """Return True for every part."""
    return True


@dataclass(frozen=True, kw_only=True)
class PartDescription[S: Subject](EntityDescription):
    """The common part of all descriptions; without a translation key the key is used.

    `fit_fn` returns entity attributes that depend on the part's set-up, by their names
    in the description. `unrecorded` are attributes of the moment, not of history.
    `enabled_fn` overrides for this part whether an entity is enabled at first. `due_fn`
    returns whether a change is written at once; otherwise it waits for the end of the
    five minutes.
    """

    part: type[S]
    exists_fn: Callable[[S], bool] = always
    available_fn: Callable[[S], bool] = lambda subject: subject.available
    attributes_fn: Callable[[S], dict[str, Any] | None] | None = None
    fit_fn: Callable[[S], Mapping[str, Any]] | None = None
    enabled_fn: Callable[[S], bool] = always
    due_fn: Callable[[S], bool] = always
    follows: tuple[Follow[S], ...] = (Subject.listen,)
    unrecorded: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class SensorDescription[S: Subject](SensorEntityDescription, PartDescription[S]):
    """A sensor; `restore_fn` gets a total's value from before the restart."""

    value_fn: Callable[[S], Value]
    restore_fn: Callable[[S, float], None] | None = None


def sensor[S: Subject](
    part: type[S], key: str, value_fn: Callable[[S], Value], **more: Any
) -> SensorDescription[S]:
    """Describe a sensor of one kind of part in a row of a table."""
    return SensorDescription(key=key, part=part, value_fn=value_fn, **more)


@dataclass(frozen=True, kw_only=True)
class BinarySensorDescription[S: Subject](
    BinarySensorEntityDescription, PartDescription[S]
):
    """A binary sensor."""

    value_fn: Callable[[S], bool | None]


@dataclass(frozen=True, kw_only=True)
class SwitchDescription[S: Subject](SwitchEntityDescription, PartDescription[S]):
    """A switch."""

    value_fn: Callable[[S], bool]
    set_fn: Callable[[S, bool], None]
    admin_only: bool = False


@dataclass(frozen=True, kw_only=True)
class SelectDescription[S: Subject](SelectEntityDescription, PartDescription[S]):
    """A select."""

    options_fn: Callable[[S], list[str]]
    value_fn: Callable[[S], str | None]
    set_fn: Callable[[S, str], None]


@dataclass(frozen=True, kw_only=True)
class ButtonDescription[S: Subject](ButtonEntityDescription, PartDescription[S]):
    """A button."""

    press_fn: Callable[[S], None]


@dataclass(frozen=True, kw_only=True)
class EventDescription[S: Subject](EventEntityDescription, PartDescription[S]):
    """An event; `listen_fn` subscribes to it and returns a function that ends this."""

    listen_fn: Callable[[S, Fire], CALLBACK_TYPE]
    follows: tuple[Follow[S], ...] = ()


@dataclass(frozen=True, kw_only=True)
class CoverDescription[S: Subject](CoverEntityDescription, PartDescription[S]):
    """A cover."""
