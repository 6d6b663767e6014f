"""What is looked after, in the collector's form: bin, filter, cleaning, services, room."""

from collections.abc import Callable, Iterable, Mapping
import re
from typing import Any, Final

from homeassistant.components.fan import DOMAIN as FAN
from homeassistant.components.light import DOMAIN as LIGHT
from homeassistant.components.sensor import SensorDeviceClass
from homeassistant.components.switch import DOMAIN as SWITCH
from homeassistant.const import ATTR_DEVICE_CLASS, PERCENTAGE
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.selector import BooleanSelector
from homeassistant.util import slugify
from homeassistant.util.unit_conversion import DistanceConverter
import voluptuous as vol

from ..const import (
    CONF_BIN_EMPTY_READING,
    CONF_BIN_FULL,
    CONF_BIN_FULL_READING,
    CONF_BIN_LEVEL,
    CONF_BIN_USUAL,
    CONF_BIN_VOLUME,
    CONF_BIN_WARN,
    CONF_CLEANING,
    CONF_CLEANING_ABOVE,
    CONF_CLEANING_HOURS,
    CONF_CLEANING_KIND,
    CONF_CLEANING_PAUSE,
    CONF_CLEANING_RUNNING,
    CONF_CLEANING_TIME,
    CONF_CLEANING_TIMES,
    CONF_CLEANING_WAIT,
    CONF_ENERGY_PRICE,
    CONF_FILTER_HOURS,
    CONF_FILTER_LIFE,
    CONF_FILTER_PRESSURE,
    CONF_FILTER_WORN,
    CONF_PARTICLES,
    CONF_PARTICLES_CLEAN,
    CONF_POWER,
    CONF_ROOM_CHANGES,
    CONF_ROOM_CLEANER,
    CONF_ROOM_FLOW,
    CONF_ROOM_VOLUME,
    CONF_SERVICES,
)
from ..entities import to_entity_id
from ..shop.units import HOUR
from ..shop.upkeep.plan import CleaningKind
from ..sources import MILLIGRAMS
from ..upkeep.settings import (
    SERVICE_DAYS,
    SERVICE_HOURS,
    SERVICE_ID,
    SERVICE_NAME,
    SERVICE_STARTS,
    USUAL_BIN,
    USUAL_CLEANING,
    USUAL_ROOM,
)
from .claims import Claims, Role
from .fields import (
    Fields,
    choice_field,
    names_field,
    number_field,
    number_of,
    touched,
)
from .mistakes import Mistakes
from .names import is_usable
from .picks import COMPANION, Pick, likely_any, pick_field, take_each
from .quantities import quantity_field, quantity_of, shown, usual_text
from .readings import INPUT_BOOLEAN, NUMBER_DOMAINS, Refused, name_of, unit_of

_MICROGRAMS: Final = 1000.0
"""µg in a mg: particles are typed in µg/m3, as their sensors read, and kept in mg/m3."""

_LEVEL_CLASSES = (SensorDeviceClass.DISTANCE, SensorDeviceClass.VOLUME_STORAGE)


def _likely_level(hass: HomeAssistant, state: State, claims: Claims) -> bool:
    unit = unit_of(hass, state.entity_id)
    return (
        state.attributes.get(ATTR_DEVICE_CLASS) in _LEVEL_CLASSES
        or unit == PERCENTAGE
        or unit in DistanceConverter.VALID_UNITS
    )


def _judge_particles(hass: HomeAssistant, entity_id: str) -> Refused | None:
    unit = unit_of(hass, entity_id)
    if unit in MILLIGRAMS:
        return None
    return Refused("not_particles", f"{name_of(hass, entity_id)} ({unit or '-'})")


LEVEL = Pick(role=Role.WATCHED, domains=NUMBER_DOMAINS, likely=_likely_level)
PARTICLES = Pick(
    role=Role.WATCHED,
    domains=NUMBER_DOMAINS,
    judge=_judge_particles,
    likely=likely_any,
)
CLEANING = Pick(
    role=Role.ACTUATOR,
    domains=(SWITCH, INPUT_BOOLEAN),
    judge=COMPANION.judge,
    likely=COMPANION.likely,
)
ROOM_CLEANER = Pick(
    role=Role.ACTUATOR,
    domains=(SWITCH, FAN, LIGHT, INPUT_BOOLEAN),
    judge=COMPANION.judge,
    likely=COMPANION.likely,
)

_PICKS = {
    CONF_BIN_LEVEL: LEVEL,
    CONF_CLEANING: CLEANING,
    CONF_ROOM_CLEANER: ROOM_CLEANER,
    CONF_PARTICLES: PARTICLES,
}
_QUANTITIES = (
    CONF_BIN_VOLUME,
    CONF_FILTER_WORN,
    CONF_CLEANING_ABOVE,
    CONF_ROOM_VOLUME,
    CONF_ROOM_FLOW,
)
_READINGS = (CONF_BIN_EMPTY_READING, CONF_BIN_FULL_READING)
_CLEANING_NUMBERS = (
    CONF_CLEANING_WAIT,
    CONF_CLEANING_TIME,
    CONF_CLEANING_TIMES,
    CONF_CLEANING_PAUSE,
    CONF_CLEANING_HOURS,
)

UPKEEP_SECTIONS = {
    "bin": (
        CONF_BIN_VOLUME,
        CONF_BIN_LEVEL,
        *_READINGS,
        CONF_BIN_WARN,
        CONF_BIN_USUAL,
    ),
    "filter": (CONF_FILTER_HOURS, CONF_FILTER_LIFE, CONF_FILTER_WORN),
    "filter_cleaning": (
        CONF_CLEANING,
        CONF_CLEANING_KIND,
        *_CLEANING_NUMBERS,
        CONF_CLEANING_ABOVE,
        CONF_CLEANING_RUNNING,
    ),
    "service": (CONF_SERVICES, CONF_ENERGY_PRICE),
    "room": (
        CONF_ROOM_CLEANER,
        CONF_ROOM_VOLUME,
        CONF_ROOM_FLOW,
        CONF_ROOM_CHANGES,
        CONF_PARTICLES,
        CONF_PARTICLES_CLEAN,
    ),
}
"""The fields of these parts of the form."""


def upkeep_fields(
    hass: HomeAssistant, claims: Claims, values: Mapping[str, Any]
) -> Fields:
    """Return the fields for what is looked after."""
    fields: Fields = {}
    for field in (name for held in UPKEEP_SECTIONS.values() for name in held):
        if field in _PICKS:
            pick = _PICKS[field]
            chosen = pick_field(hass, pick, claims, values, field)
            fields[vol.Optional(field)] = chosen
        elif field in _QUANTITIES:
            fields[vol.Optional(field)] = quantity_field(hass, field)
        elif field == CONF_CLEANING_KIND:
            fields[vol.Optional(field)] = choice_field(field, CleaningKind)
        elif field == CONF_CLEANING_RUNNING:
            fields[vol.Optional(field)] = BooleanSelector()
        elif field == CONF_SERVICES:
            fields[vol.Optional(field)] = names_field()
        else:
            fields[vol.Optional(field)] = number_field(field)
    return fields


def upkeep_values(hass: HomeAssistant, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a form shows for what is stored."""
    clean = data.get(CONF_PARTICLES_CLEAN)
    return {
        **{field: to_entity_id(hass, data.get(field, "")) for field in _PICKS},
        **{field: shown(hass, field, data.get(field)) for field in _QUANTITIES},
        CONF_CLEANING_RUNNING: data.get(CONF_CLEANING_RUNNING),
        CONF_SERVICES: [_text(item) for item in data.get(CONF_SERVICES, ())] or None,
        CONF_PARTICLES_CLEAN: None if clean is None else round(clean * _MICROGRAMS, 6),
    }


def upkeep_placeholders(hass: HomeAssistant) -> dict[str, str]:
    """Return what the texts of the fields name: what is usual."""
    usual = {
        CONF_BIN_WARN: f"{100 * USUAL_BIN.warn_share:g} %",
        CONF_CLEANING_WAIT: f"{USUAL_CLEANING.wait:g} s",
        CONF_CLEANING_TIME: f"{USUAL_CLEANING.duration:g} s",
        CONF_CLEANING_PAUSE: f"{USUAL_CLEANING.pause:g} s",
        CONF_CLEANING_TIMES: f"{USUAL_CLEANING.times}",
        CONF_CLEANING_HOURS: f"{USUAL_CLEANING.every / HOUR:g} h",
        CONF_BIN_VOLUME: usual_text(hass, CONF_BIN_VOLUME, USUAL_BIN.volume),
        CONF_ROOM_VOLUME: usual_text(hass, CONF_ROOM_VOLUME, USUAL_ROOM.volume),
        CONF_ROOM_FLOW: usual_text(hass, CONF_ROOM_FLOW, USUAL_ROOM.flow),
        "currency": hass.config.currency,
    }
    return {
        name if name == "currency" else f"usual_{name}": text
        for name, text in usual.items()
    }


def read_upkeep_form(
    hass: HomeAssistant,
    typed: Mapping[str, Any],
    claims: Claims,
    mistakes: Mistakes,
    before: Mapping[str, Any],
    stored: Mapping[str, Any],
) -> dict[str, Any]:
    """Judge what was typed about what is looked after; return what to store of it."""
    data: dict[str, Any] = {**take_each(hass, _PICKS, claims, mistakes, typed, before)}

    def numbers(fields: Iterable[str]) -> None:
        for field in fields:
            if typed.get(field) is not None:
                data[field] = number_of(typed, field, mistakes, 0.0)

    for field in _QUANTITIES:
        if typed.get(field) is not None:
            data[field] = quantity_of(hass, typed, field, mistakes, before, stored, 0)
    numbers((*_READINGS, CONF_BIN_WARN, CONF_BIN_USUAL))
    numbers((CONF_FILTER_HOURS, CONF_FILTER_LIFE, CONF_ENERGY_PRICE))
    numbers((*_CLEANING_NUMBERS, CONF_ROOM_CHANGES, CONF_PARTICLES_CLEAN))
    if CONF_PARTICLES_CLEAN in data:
        data[CONF_PARTICLES_CLEAN] /= _MICROGRAMS
    if kind := typed.get(CONF_CLEANING_KIND):
        data[CONF_CLEANING_KIND] = str(kind)
    if typed.get(CONF_CLEANING_RUNNING):
        data[CONF_CLEANING_RUNNING] = True
    if typed.get(CONF_SERVICES):
        data[CONF_SERVICES] = _read_services(typed, mistakes, stored)
    _find_contradictions(typed, data, mistakes, before)
    return data


type _Need = tuple[tuple[str, ...], tuple[str, ...], Callable[[str], None]]
"""Fields, what they need one of, and how a lack is told."""


def _find_contradictions(
    typed: Mapping[str, Any],
    data: dict[str, Any],
    mistakes: Mistakes,
    before: Mapping[str, Any],
) -> None:
    """Find what says something only together with something else that is not there."""
    empty, full = (data.get(field) for field in _READINGS)
    if typed.get(CONF_BIN_LEVEL):
        if empty is None or full is None:
            mistakes.add(CONF_BIN_EMPTY_READING, "level_readings_missing")
        elif empty == full:
            mistakes.add(CONF_BIN_FULL_READING, "level_readings_same")
    needs: tuple[_Need, ...] = (
        (
            _READINGS,
            (CONF_BIN_LEVEL,),
            lambda field: mistakes.add(field, "level_missing"),
        ),
        (
            (CONF_BIN_WARN, CONF_BIN_USUAL),
            (CONF_BIN_VOLUME, CONF_BIN_LEVEL, CONF_BIN_FULL),
            lambda field: mistakes.add(field, "bin_missing"),
        ),
        (
            (CONF_FILTER_WORN,),
            (CONF_FILTER_PRESSURE,),
            lambda field: mistakes.add(field, "worn_without_pressure"),
        ),
        (
            (CONF_CLEANING_ABOVE,),
            (CONF_FILTER_PRESSURE,),
            lambda field: mistakes.add(field, "above_without_pressure"),
        ),
        (
            (
                CONF_CLEANING_KIND,
                *_CLEANING_NUMBERS,
                CONF_CLEANING_ABOVE,
                CONF_CLEANING_RUNNING,
            ),
            (CONF_CLEANING,),
            lambda field: mistakes.add(field, "cleaning_missing"),
        ),
        (
            (CONF_ROOM_VOLUME, CONF_ROOM_FLOW, CONF_ROOM_CHANGES),
            (CONF_ROOM_CLEANER,),
            lambda field: mistakes.add(field, "room_cleaner_missing"),
        ),
        (
            (CONF_PARTICLES_CLEAN,),
            (CONF_PARTICLES,),
            lambda field: mistakes.add(field, "particles_missing"),
        ),
        (
            (CONF_ENERGY_PRICE,),
            (CONF_POWER,),
            lambda field: mistakes.add(field, "price_without_power"),
        ),
    )
    given = {field for field, value in typed.items() if value not in (None, [], False)}
    for fields, basis, refuse in needs:
        if given & set(basis):
            continue
        for field in fields:
            if field in data:
                if touched(typed, before, field):
                    refuse(field)
                # Left over from what has gone: it goes as well.
                del data[field]


_SERVICE = re.compile(
    r"^(?P<name>.*\S)[\s:=]+(?P<number>\d+(?:[.,]\d+)?)\s*"
    r"(?P<unit>h|hours?|d|days?|starts?)?$",
    re.IGNORECASE,
)
_UNITS = {"h": SERVICE_HOURS, "d": SERVICE_DAYS, "s": SERVICE_STARTS}
_SHOWN_UNITS = {SERVICE_HOURS: "h", SERVICE_DAYS: "days", SERVICE_STARTS: "starts"}
_MOST = {SERVICE_HOURS: 100_000, SERVICE_DAYS: 3660, SERVICE_STARTS: 1_000_000}
"""Greatest sensible intervals; no source."""


def _text(item: Mapping[str, Any]) -> str:
    """Return an interval as a person writes it."""
    [(number, unit)] = (
        (item[key], unit) for key, unit in _SHOWN_UNITS.items() if key in item
    )
    return f"{item[SERVICE_NAME]} {number:g} {unit}"


def _read_services(
    typed: Mapping[str, Any], mistakes: Mistakes, stored: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Judge what is to be seen to: a name, a number, and hours, days or starts."""
    known = {
        item[SERVICE_NAME].casefold(): item[SERVICE_ID]
        for item in stored.get(CONF_SERVICES, ())
    }
    found: dict[str, dict[str, Any]] = {}
    for line in typed[CONF_SERVICES]:
        text = line.strip()
        if not text:
            continue
        match = _SERVICE.match(text)
        if match is None:
            mistakes.add(CONF_SERVICES, "service_unreadable", text)
            continue
        name = match["name"].rstrip(" :=")
        if not is_usable(name, mistakes, CONF_SERVICES):
            continue
        key = _UNITS[(match["unit"] or "h")[0].lower()]
        number = float(match["number"].replace(",", "."))
        if not 0 < number <= _MOST[key] or (
            key != SERVICE_HOURS and not number.is_integer()
        ):
            mistakes.add(CONF_SERVICES, "service_out_of_range", text)
            continue
        service_id = known.get(name.casefold()) or slugify(name)
        if service_id in found:
            mistakes.add(CONF_SERVICES, "service_twice", name)
        found[service_id] = {
            SERVICE_ID: service_id,
            SERVICE_NAME: name,
            key: number if key == SERVICE_HOURS else int(number),
        }
    return list(found.values())
