"""The pages of a system's settings: which fields, and what marks them as set up."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from homeassistant.const import CONF_NAME

from ... import const
from ..field import Field
from ..form import About, Form
from .collector import COLLECTOR, TIMING_GROUP
from .collector_air import AIR, DRIVING
from .maintenance import (
    BIN_GROUP,
    CLEANING_GROUP,
    FILTER_GROUP,
    ROOM_GROUP,
    SERVICE_GROUP,
)
from .monitor_only import CONF_MONITOR_ONLY
from .motor import MOTOR_GROUP
from .phones import PHONES

MARK = "✓"
"""The mark in the menu for what is set up; it needs no translation."""


@dataclass(frozen=True, slots=True)
class SettingsPage:
    """A page, and the keys of the stored data that mark it as set up."""

    form: Form
    signs: frozenset[str]

    def mark(self, data: Mapping[str, Any]) -> str:
        """Return a page's mark if it's set up, else nothing."""
        return MARK if any(data.get(key) for key in self.signs) else ""


def _page(
    name: str,
    *fields: Field,
    signs: Iterable[str] = (),
    errors: Iterable[str] = (),
    about: About | None = None,
) -> SettingsPage:
    keys = (field.key for field in fields)
    form = COLLECTOR.page(name, *keys, errors=errors, about=about)
    return SettingsPage(form, frozenset(signs))


_FAN = tuple(
    COLLECTOR[key]
    for key in (
        const.CONF_FAN_POINTS,
        const.CONF_FREE_FLOW,
        const.CONF_MAX_SUCTION,
        const.CONF_INLET_DIAMETER,
        const.CONF_INLET,
        const.CONF_SEPARATOR_FLOW,
        const.CONF_SEPARATOR_LOSS,
        const.CONF_FILTER_FLOW,
        const.CONF_FILTER_LOSS,
    )
)

COLLECTOR_PAGE = _page(
    "collector",
    COLLECTOR[CONF_NAME],
    COLLECTOR[const.CONF_SWITCH],
    COLLECTOR[const.CONF_POWER],
    COLLECTOR[const.CONF_HAND_GATES],
    COLLECTOR[const.CONF_HIDE_WRAPPED],
)

PAGES: Mapping[str, SettingsPage] = {
    "collector": COLLECTOR_PAGE,
    "timing": _page("timing", *TIMING_GROUP.fields, about=TIMING_GROUP.about),
    "motor": _page(
        "motor",
        *MOTOR_GROUP.fields,
        signs=(
            const.CONF_MOTOR_RATING,
            const.CONF_MIN_OFF_TIME,
            const.CONF_STARTS_PER_HOUR,
        ),
        errors=MOTOR_GROUP.errors,
    ),
    "watching": _page(
        "watching",
        COLLECTOR[CONF_MONITOR_ONLY],
        COLLECTOR[const.CONF_FIRE_DETECTORS],
        COLLECTOR[const.CONF_AIR_SUPPLY],
        COLLECTOR[const.CONF_AIR_SUPPLY_LOW],
        signs=(
            const.CONF_MONITOR_ONLY_SINCE,
            const.CONF_FIRE_DETECTORS,
            const.CONF_AIR_SUPPLY,
        ),
        errors=("air_limit_without_pressure",),
    ),
    "bin": _page(
        "bin",
        COLLECTOR[const.CONF_BIN_FULL],
        COLLECTOR[const.CONF_BIN_ANSWER],
        *BIN_GROUP.fields,
        signs=(const.CONF_BIN_FULL, const.CONF_BIN_VOLUME, const.CONF_BIN_LEVEL),
        errors=("answer_without_bin", *BIN_GROUP.errors),
    ),
    "filter": _page(
        "filter",
        COLLECTOR[const.CONF_FILTER_PRESSURE],
        COLLECTOR[const.CONF_FILTER_LIMIT],
        *FILTER_GROUP.fields,
        signs=(
            const.CONF_FILTER_PRESSURE,
            const.CONF_FILTER_HOURS,
            const.CONF_FILTER_LIFE,
        ),
        errors=("filter_limit_without_pressure",),
    ),
    "cleaning": _page("cleaning", *CLEANING_GROUP.fields, signs=(const.CONF_CLEANING,)),
    "service": _page(
        "service",
        *SERVICE_GROUP.fields,
        signs=(const.CONF_SERVICES, const.CONF_ENERGY_PRICE),
        about=SERVICE_GROUP.about,
    ),
    "room": _page(
        "room",
        *ROOM_GROUP.fields,
        signs=(const.CONF_ROOM_CLEANER, const.CONF_PARTICLES),
    ),
    "phones": _page("phones", *PHONES.fields, signs=(const.CONF_PHONES,)),
    "fan": _page(
        "fan",
        *_FAN,
        signs=(const.CONF_FAN_POINTS, const.CONF_FREE_FLOW),
        errors=("half_of_pair",),
    ),
    "outlet": _page(
        "outlet",
        *(field for field in AIR.fields if field not in _FAN),
        signs=(
            const.CONF_DISCHARGE,
            const.CONF_CARRIED,
            const.CONF_SUCTION,
            const.CONF_AIR_MARGIN,
        ),
        errors=("stack_diameter_missing", "stack_without_outside"),
    ),
    "driving": _page(
        "driving",
        *DRIVING.fields,
        signs=tuple(field.key for field in DRIVING.fields),
        errors=DRIVING.errors,
    ),
}
"""The pages by their steps; at most ten fields each."""

AIRFLOW_PAGES = ("fan", "outlet", "driving")
"""The pages in the menu of ducts and fan."""
