"""Fields of forms: selectors that let the form do the judging, limits, sections.

Home Assistant's own checks answer in English, one kind at a time, and without the
place for a field in a section. So these selectors only offer; what was chosen is
judged by the form, all at once and in its own words.
"""

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
import math
from typing import Any, cast, override

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import PERCENTAGE
from homeassistant.data_entry_flow import section
from homeassistant.helpers.selector import (
    EntitySelector,
    EntitySelectorConfig,
    NumberSelector,
    NumberSelectorConfig,
    NumberSelectorMode,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TextSelector,
    TextSelectorConfig,
)
import voluptuous as vol

from ..const import (
    CONF_AIR_MARGIN,
    CONF_BIN_EMPTY_READING,
    CONF_BIN_FULL_READING,
    CONF_BIN_USUAL,
    CONF_BIN_WARN,
    CONF_CERTAIN,
    CONF_CLEANING_HOURS,
    CONF_CLEANING_PAUSE,
    CONF_CLEANING_TIME,
    CONF_CLEANING_TIMES,
    CONF_CLEANING_WAIT,
    CONF_COAST,
    CONF_CONFIRM,
    CONF_DRIVE_CEILING,
    CONF_DRIVE_FLOOR,
    CONF_DROP_ELBOWS,
    CONF_ENERGY_PRICE,
    CONF_ENTRY_ANGLE,
    CONF_FILTER_HOURS,
    CONF_FILTER_LIFE,
    CONF_GRACE,
    CONF_HOLD,
    CONF_HOSE_CONFIRM,
    CONF_OPEN_FROM,
    CONF_PARTICLES_CLEAN,
    CONF_REQUEST_LIMIT,
    CONF_REST_TIME,
    CONF_ROOM_CHANGES,
    CONF_RUN_LIMIT,
    CONF_RUN_ON,
    CONF_SILENCE,
    CONF_SPIN_UP,
    CONF_START,
    CONF_START_DELAY,
    CONF_START_SETTLE,
    CONF_STARTS_PER_HOUR,
    CONF_STOP,
    CONF_STOP_SETTLE,
    CONF_TRAVEL,
    SUBENTRY_GATE,
    SUBENTRY_MACHINE,
    UNIT_AMPERE,
    UNIT_WATT,
)
from .mistakes import Mistakes

CONF_CLEARING_TIME = ("clearing_1_time", "clearing_2_time")
CONF_ELBOW_COUNT = ("elbows_1_count", "elbows_2_count")
CONF_ELBOW_ANGLE = ("elbows_1_angle", "elbows_2_angle")
CONF_ELBOW_RADIUS = ("elbows_1_radius", "elbows_2_radius")
CONF_ELBOW_CONSTRUCTION = ("elbows_1_construction", "elbows_2_construction")


@dataclass(frozen=True, slots=True)
class Limit:
    """The least and the greatest sensible value of a number, and its unit."""

    low: float
    high: float
    unit: str | None = "s"

    @override
    def __str__(self) -> str:
        """Return the range as a person writes it."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.low:g}–{self.high:g}{unit}"


# Wide enough for any shop that was thought of, narrow enough to catch a slip of the
# finger or milliseconds typed for seconds; no source.
LIMITS = {
    CONF_RUN_ON: Limit(0, 600),
    CONF_COAST: Limit(0, 600),
    CONF_START_DELAY: Limit(0, 60),
    CONF_CONFIRM: Limit(1, 120),
    CONF_SPIN_UP: Limit(0, 60),
    CONF_REST_TIME: Limit(0, 3600),
    CONF_STARTS_PER_HOUR: Limit(1, 120, None),
    CONF_TRAVEL: Limit(0, 120),
    CONF_START_SETTLE: Limit(0, 60),
    CONF_STOP_SETTLE: Limit(0, 300),
    CONF_GRACE: Limit(0, 3600),
    CONF_SILENCE: Limit(0, 1440, "min"),
    CONF_RUN_LIMIT: Limit(0, 1440, "min"),
    CONF_HOLD: Limit(0, 600),
    CONF_HOSE_CONFIRM: Limit(0, 60),
    CONF_OPEN_FROM: Limit(50, 100, PERCENTAGE),
    **dict.fromkeys(CONF_CLEARING_TIME, Limit(0, 600)),
    CONF_REQUEST_LIMIT: Limit(0, 1440, "min"),
    CONF_ENTRY_ANGLE: Limit(0, 90, "°"),
    **dict.fromkeys(CONF_ELBOW_COUNT, Limit(0, 20, None)),
    **dict.fromkeys(CONF_ELBOW_ANGLE, Limit(1, 180, "°")),
    **dict.fromkeys(CONF_ELBOW_RADIUS, Limit(0.5, 5, "× D")),
    CONF_DROP_ELBOWS: Limit(0, 10, None),
    CONF_DRIVE_FLOOR: Limit(10, 100, PERCENTAGE),
    CONF_AIR_MARGIN: Limit(0, 100, PERCENTAGE),
    **dict.fromkeys(
        (CONF_BIN_EMPTY_READING, CONF_BIN_FULL_READING),
        Limit(-100_000, 100_000, None),
    ),
    CONF_BIN_WARN: Limit(10, 100, PERCENTAGE),
    CONF_BIN_USUAL: Limit(10, 100, PERCENTAGE),
    CONF_FILTER_HOURS: Limit(0.5, 10_000, "h"),
    CONF_FILTER_LIFE: Limit(1, 100_000, "h"),
    CONF_ENERGY_PRICE: Limit(0.0001, 10_000, None),
    CONF_CLEANING_WAIT: Limit(0, 600),
    CONF_CLEANING_TIME: Limit(0.1, 600),
    CONF_CLEANING_TIMES: Limit(1, 100, None),
    CONF_CLEANING_PAUSE: Limit(0, 600),
    CONF_CLEANING_HOURS: Limit(0, 1000, "h"),
    CONF_ROOM_CHANGES: Limit(0.1, 50, None),
    CONF_PARTICLES_CLEAN: Limit(1, 10_000, "µg/m³"),
    CONF_DRIVE_CEILING: Limit(10, 100, PERCENTAGE),
}

LEVEL_LIMITS = {
    UNIT_WATT: Limit(0, 50_000, UNIT_WATT),
    UNIT_AMPERE: Limit(0, 250, UNIT_AMPERE),
}
"""Limits of the levels by the unit of the reading."""

LEVELS = (CONF_START, CONF_STOP)
"""The levels that every reading has."""

ANY_LEVELS = (*LEVELS, CONF_CERTAIN)
"""The same, and the one that may be left out."""


class OfferedEntity(EntitySelector):
    """Offers a list of entities, but takes any, so that the form can say what is wrong."""

    @override
    def __call__(self, data: Any) -> str | list[str]:
        """Return the chosen entity or entities, each once."""
        config = EntitySelectorConfig(multiple=self.config["multiple"])
        return _once(EntitySelector(config)(data))


class OfferedChoice(SelectSelector):
    """A choice of several things, each of them once."""

    @override
    def __call__(self, data: Any) -> Any:
        """Return what was chosen."""
        return _once(super().__call__(data))


class OfferedTexts(TextSelector):
    """Any number of texts, each of them once."""

    @override
    def __call__(self, data: Any) -> Any:
        """Return what was typed."""
        return _once(super().__call__(data))


class OfferedNumber(NumberSelector):
    """Names limits, but takes any number, so that the form can say what is wrong."""

    @override
    def __call__(self, data: Any) -> float:
        """Return the number."""
        return NumberSelector()(data)


def _once[T](value: T) -> T:
    """Return a list without what is in it twice; anything else as it is."""
    if isinstance(value, list):
        return cast("T", list(dict.fromkeys(value)))
    return value


def entity_field(offered: list[str], *, multiple: bool = False) -> OfferedEntity:
    """Return a picker that offers these entities."""
    return OfferedEntity(
        EntitySelectorConfig(include_entities=offered, multiple=multiple)
    )


def chosen_in(values: Mapping[str, Any], field: str) -> list[str]:
    """Return what is chosen in a field that holds one entity or several."""
    chosen = values.get(field) or []
    return [chosen] if isinstance(chosen, str) else chosen


def number_field(name: str, limit: Limit | None = None) -> OfferedNumber:
    """Return a field for a number."""
    limit = limit or LIMITS[name]
    config = NumberSelectorConfig(
        min=limit.low, max=limit.high, step="any", mode=NumberSelectorMode.BOX
    )
    if limit.unit:
        config["unit_of_measurement"] = limit.unit
    return OfferedNumber(config)


def choice_field(name: str, options: Iterable[str]) -> SelectSelector:
    """Return a choice of one of several words, translated under `selector.<name>`."""
    return SelectSelector(
        SelectSelectorConfig(
            options=list(options),
            translation_key=name,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )


def parts_field(parts: Mapping[str, str]) -> SelectSelector:
    """Return a choice of any of the gates or machines, which are named by id."""
    return OfferedChoice(
        SelectSelectorConfig(
            options=[
                SelectOptionDict(value=part_id, label=name)
                for part_id, name in sorted(parts.items(), key=lambda item: item[1])
            ],
            multiple=True,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )


def states_field(known: Iterable[str]) -> SelectSelector:
    """Return a choice of any of an entity's states; others can be typed."""
    return OfferedChoice(
        SelectSelectorConfig(
            options=list(known),
            multiple=True,
            custom_value=True,
            mode=SelectSelectorMode.DROPDOWN,
        )
    )


def names_field() -> OfferedTexts:
    """Return a field for any number of names."""
    return OfferedTexts(TextSelectorConfig(multiple=True))


def gate_names(entry: ConfigEntry) -> dict[str, str]:
    """Return the names of a system's gates by their ids."""
    return _names(entry, SUBENTRY_GATE)


def machine_names(entry: ConfigEntry) -> dict[str, str]:
    """Return the names of a system's machines by their ids."""
    return _names(entry, SUBENTRY_MACHINE)


def _names(entry: ConfigEntry, subentry_type: str) -> dict[str, str]:
    return {
        part.subentry_id: part.title
        for part in entry.get_subentries_of_type(subentry_type)
    }


type Fields = dict[vol.Marker, Any]
"""The fields of a form: a marker with the field's name, and its selector."""


def form(
    fields: Fields,
    values: Mapping[str, Any],
    sections: Mapping[str, Iterable[str]] | None = None,
    opened: Container[str] = (),
) -> vol.Schema:
    """Return the form: fields filled in with `values`, and grouped into sections.

    Sections are collapsed unless they are `opened`; a section without fields is left
    out.
    """
    section_of = {
        field: name for name, held in (sections or {}).items() for field in held
    }
    top: Fields = {}
    grouped: dict[str, Fields] = {}
    for marker, field in fields.items():
        name = str(marker.schema)
        if (value := values.get(name)) is not None:
            marker.description = {"suggested_value": value}
        place = section_of.get(name)
        (top if place is None else grouped.setdefault(place, {}))[marker] = field
    for place, held in grouped.items():
        top[vol.Required(place)] = section(
            vol.Schema(held), {"collapsed": place not in opened}
        )
    return vol.Schema(top)


def flatten(
    user_input: Mapping[str, Any], sections: Mapping[str, Iterable[str]]
) -> dict[str, Any]:
    """Return what was typed, without the sections."""
    flat = {key: value for key, value in user_input.items() if key not in sections}
    for name in sections:
        flat |= user_input.get(name, {})
    return flat


def number_of(
    typed: Mapping[str, Any],
    field: str,
    mistakes: Mistakes,
    default: float,
    limit: Limit | None = None,
) -> float:
    """Return a typed number, or the default where none was typed."""
    if (value := typed.get(field)) is None:
        return default
    limit = limit or LIMITS[field]
    # Not a number (NaN) is no more between two others than a too great one.
    if not limit.low <= value <= limit.high:
        mistakes.add(field, f"bad_{field}", str(limit))
    # With one that is infinite nothing more can be reckoned.
    return float(value) if math.isfinite(value) else default


def touched(typed: Mapping[str, Any], before: Mapping[str, Any], field: str) -> bool:
    """Return whether somebody filled in a field, rather than left what it showed."""
    value = typed.get(field)
    return value not in (None, [], before.get(field))
