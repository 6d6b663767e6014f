"""The maintenance part of the collector's form: bin, filter, services, room."""

from collections.abc import Mapping
from dataclasses import replace
import re
from typing import Any, Final, override

from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.components.switch import DOMAIN as SWITCH
from homeassistant.const import ATTR_DEVICE_CLASS, PERCENTAGE
from homeassistant.core import HomeAssistant, State
from homeassistant.util import slugify
from homeassistant.util.unit_conversion import DistanceConverter

from ... import const
from ...core.maintenance.config import CleaningKind
from ...core.units import HOUR
from ...features.maintenance.config import (
    SERVICE_DAYS,
    SERVICE_HOURS,
    SERVICE_ID,
    SERVICE_NAME,
    SERVICE_STARTS,
    USUAL_BIN,
    USUAL_CLEANING,
    USUAL_ROOM,
)
from ...runtime.decoding import MILLIGRAMS
from ..entity_picker import LINKED_DEVICE, EntityPicker, likely_any
from ..entity_usage import EntityRole, EntityUsage
from ..field import Answers, FormContext
from ..form import Group
from ..kinds import ChoiceField, EntityField, SettingField, TextsField
from ..names import NAME_ERRORS, is_usable
from ..numbers import (
    BIN,
    FILTER_LOSS,
    FLOW,
    ROOM,
    FieldLimits,
    NumberField,
    QuantityField,
)
from ..sensor_description import (
    INPUT_BOOLEAN,
    NUMBER_DOMAINS,
    UnusableSensor,
    name_of,
    unit_of,
)

_MICROGRAMS: Final = 1000.0
"""µg in a mg: particles are typed in µg/m3, as sensors read, and stored in mg/m3."""

_LEVEL_CLASSES = (SensorDeviceClass.DISTANCE, SensorDeviceClass.VOLUME_STORAGE)


def _likely_level(hass: HomeAssistant, state: State, claims: EntityUsage) -> bool:
    unit = unit_of(hass, state.entity_id)
    return (
        state.attributes.get(ATTR_DEVICE_CLASS) in _LEVEL_CLASSES
        or unit == PERCENTAGE
        or unit in DistanceConverter.VALID_UNITS
    )


def _judge_particles(hass: HomeAssistant, entity_id: str) -> UnusableSensor | None:
    unit = unit_of(hass, entity_id)
    if unit in MILLIGRAMS:
        return None
    return UnusableSensor(
        "not_particles", f"{name_of(hass, entity_id)} ({unit or '-'})"
    )


LEVEL = EntityPicker(
    role=EntityRole.WATCHED, domains=NUMBER_DOMAINS, likely=_likely_level
)
PARTICLES = EntityPicker(
    role=EntityRole.WATCHED,
    domains=NUMBER_DOMAINS,
    judge=_judge_particles,
    faults=("not_particles",),
    likely=likely_any,
)
CLEANING = replace(
    LINKED_DEVICE, role=EntityRole.ACTUATOR, domains=(SWITCH, INPUT_BOOLEAN)
)
ROOM_CLEANER = replace(LINKED_DEVICE, role=EntityRole.ACTUATOR)


class _CleanField(NumberField):
    """Particles in clean air: typed in µg/m3, stored in mg/m3."""

    @override
    def load(self, context: FormContext) -> float | None:
        clean = context.stored.get(self.key)
        return None if clean is None else round(clean * _MICROGRAMS, 6)

    @override
    def dump(self, answers: Answers) -> float | None:
        typed = super().dump(answers)
        return None if typed is None else typed / _MICROGRAMS


def _check_bin(answers: Answers) -> None:
    empty, full = (
        answers.data.get(key)
        for key in (const.CONF_BIN_EMPTY_READING, const.CONF_BIN_FULL_READING)
    )
    if not answers.given(const.CONF_BIN_LEVEL):
        return
    if empty is None or full is None:
        answers.refuse(const.CONF_BIN_EMPTY_READING, "level_readings_missing")
    elif empty == full:
        answers.refuse(const.CONF_BIN_FULL_READING, "level_readings_same")


_READING = FieldLimits(-100_000, 100_000, None)
_SHARE = FieldLimits(10, 100, PERCENTAGE)
_WITH_LEVEL = {"level_missing": (const.CONF_BIN_LEVEL,)}
_WITH_BIN = {
    "bin_missing": (const.CONF_BIN_VOLUME, const.CONF_BIN_LEVEL, const.CONF_BIN_FULL)
}

BIN_GROUP = Group(
    "bin",
    QuantityField(const.CONF_BIN_VOLUME, BIN, placeholder=USUAL_BIN.volume),
    EntityField(const.CONF_BIN_LEVEL, LEVEL),
    NumberField(const.CONF_BIN_EMPTY_READING, _READING, requires=_WITH_LEVEL),
    NumberField(const.CONF_BIN_FULL_READING, _READING, requires=_WITH_LEVEL),
    NumberField(
        const.CONF_BIN_WARN,
        _SHARE,
        requires=_WITH_BIN,
        placeholder=f"{100 * USUAL_BIN.warn_share:g} %",
    ),
    NumberField(const.CONF_BIN_USUAL, _SHARE, requires=_WITH_BIN),
    check=_check_bin,
    errors=("level_readings_missing", "level_readings_same"),
)

FILTER_GROUP = Group(
    "filter",
    NumberField(const.CONF_FILTER_HOURS, FieldLimits(0.5, 10_000, "h")),
    NumberField(const.CONF_FILTER_LIFE, FieldLimits(1, 100_000, "h")),
    QuantityField(
        const.CONF_FILTER_WORN,
        FILTER_LOSS,
        requires={"worn_without_pressure": (const.CONF_FILTER_PRESSURE,)},
    ),
)

_WITH_CLEANING = {"cleaning_missing": (const.CONF_CLEANING,)}


def _cleaning(key: str, limit: FieldLimits, usual: str) -> NumberField:
    return NumberField(key, limit, requires=_WITH_CLEANING, placeholder=usual)


CLEANING_GROUP = Group(
    "filter_cleaning",
    EntityField(const.CONF_CLEANING, CLEANING),
    ChoiceField(const.CONF_CLEANING_KIND, CleaningKind, requires=_WITH_CLEANING),
    _cleaning(
        const.CONF_CLEANING_WAIT, FieldLimits(0, 600), f"{USUAL_CLEANING.wait:g} s"
    ),
    _cleaning(
        const.CONF_CLEANING_TIME,
        FieldLimits(0.1, 600),
        f"{USUAL_CLEANING.duration:g} s",
    ),
    _cleaning(
        const.CONF_CLEANING_TIMES, FieldLimits(1, 100, None), f"{USUAL_CLEANING.times}"
    ),
    _cleaning(
        const.CONF_CLEANING_PAUSE, FieldLimits(0, 600), f"{USUAL_CLEANING.pause:g} s"
    ),
    _cleaning(
        const.CONF_CLEANING_HOURS,
        FieldLimits(0, 1000, "h"),
        f"{USUAL_CLEANING.every / HOUR:g} h",
    ),
    QuantityField(
        const.CONF_CLEANING_ABOVE,
        FILTER_LOSS,
        requires={
            "above_without_pressure": (const.CONF_FILTER_PRESSURE,),
            **_WITH_CLEANING,
        },
    ),
    SettingField(const.CONF_CLEANING_RUNNING, requires=_WITH_CLEANING),
)

_WITH_CLEANER = {"room_cleaner_missing": (const.CONF_ROOM_CLEANER,)}

ROOM_GROUP = Group(
    "room",
    EntityField(const.CONF_ROOM_CLEANER, ROOM_CLEANER),
    QuantityField(
        const.CONF_ROOM_VOLUME,
        ROOM,
        requires=_WITH_CLEANER,
        placeholder=USUAL_ROOM.volume,
    ),
    QuantityField(
        const.CONF_ROOM_FLOW, FLOW, requires=_WITH_CLEANER, placeholder=USUAL_ROOM.flow
    ),
    NumberField(
        const.CONF_ROOM_CHANGES, FieldLimits(0.1, 50, None), requires=_WITH_CLEANER
    ),
    EntityField(const.CONF_PARTICLES, PARTICLES),
    _CleanField(
        const.CONF_PARTICLES_CLEAN,
        FieldLimits(1, 10_000, "µg/m³"),
        requires={"particles_missing": (const.CONF_PARTICLES,)},
    ),
)


_UNITS = {
    SERVICE_HOURS: r"h|hours?|stunden?|std\.?|heures?",
    SERVICE_DAYS: r"d|days?|tage?|j|jours?",
    SERVICE_STARTS: r"starts?|démarrages?",
}
"""The accepted spellings of each unit: English, German and French in any language."""

_SERVICE = re.compile(
    r"^(?P<name>.*\S)[\s:=]+(?P<number>\d+(?:[.,]\d+)?)\s*"
    + "(?:"
    + "|".join(f"(?P<{unit}>{words})" for unit, words in _UNITS.items())
    + ")?$",
    re.IGNORECASE,
)
_SHOWN_UNITS = {
    "en": {SERVICE_HOURS: "h", SERVICE_DAYS: "days", SERVICE_STARTS: "starts"},
    "de": {SERVICE_HOURS: "h", SERVICE_DAYS: "Tage", SERVICE_STARTS: "Starts"},
    "fr": {SERVICE_HOURS: "h", SERVICE_DAYS: "jours", SERVICE_STARTS: "démarrages"},
}
_MOST = {SERVICE_HOURS: 100_000, SERVICE_DAYS: 3660, SERVICE_STARTS: 1_000_000}
"""The longest sensible intervals; no source."""


def _text(item: Mapping[str, Any], language: str) -> str:
    """Return an interval as a person types it, in a language such as "de-CH"."""
    units = _SHOWN_UNITS.get(language.partition("-")[0], _SHOWN_UNITS["en"])
    [(number, unit)] = ((item[key], unit) for key, unit in units.items() if key in item)
    return f"{item[SERVICE_NAME]} {number:g} {unit}"


class _ServicesField(TextsField):
    """The services: each a name, a number, and hours, days or starts."""

    faults = (
        "service_unreadable",
        "service_out_of_range",
        "service_twice",
        *(NAME_ERRORS - {"name_missing", "name_used"}),
    )

    @override
    def load(self, context: FormContext) -> list[str] | None:
        language = context.hass.config.language
        stored = context.stored.get(self.key, ())
        return [_text(item, language) for item in stored] or None

    @override
    def dump(self, answers: Answers) -> list[dict[str, Any]] | None:
        known = {
            item[SERVICE_NAME].casefold(): item[SERVICE_ID]
            for item in answers.context.stored.get(self.key, ())
        }
        found: dict[str, dict[str, Any]] = {}
        for line in answers.typed.get(self.key) or ():
            text = line.strip()
            if not text:
                continue
            match = _SERVICE.match(text)
            if match is None:
                answers.refuse(self.key, "service_unreadable", text)
                continue
            name = match["name"].rstrip(" :=")
            if not is_usable(name, answers.mistakes, self.key):
                continue
            key = next((unit for unit in _UNITS if match[unit]), SERVICE_HOURS)
            number = float(match["number"].replace(",", "."))
            if not 0 < number <= _MOST[key] or (
                key != SERVICE_HOURS and not number.is_integer()
            ):
                answers.refuse(self.key, "service_out_of_range", text)
                continue
            service_id = known.get(name.casefold()) or slugify(name)
            if service_id in found:
                answers.refuse(self.key, "service_twice", name)
            found[service_id] = {
                SERVICE_ID: service_id,
                SERVICE_NAME: name,
                key: number if key == SERVICE_HOURS else int(number),
            }
        return list(found.values()) if answers.given(self.key) else None


SERVICE_GROUP = Group(
    "service",
    _ServicesField(const.CONF_SERVICES),
    NumberField(
        const.CONF_ENERGY_PRICE,
        FieldLimits(0.0001, 10_000, None),
        requires={"price_without_power": (const.CONF_POWER,)},
    ),
    about=lambda context: {"currency": context.hass.config.currency},
)

MAINTENANCE = (BIN_GROUP, FILTER_GROUP, CLEANING_GROUP, SERVICE_GROUP, ROOM_GROUP)
"""The groups of these parts of the form."""
