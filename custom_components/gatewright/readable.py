"""What of a config entry can be read, and what of it is told to the owner instead.

An entry may have been damaged, edited, or written by another version. A part that cannot
be read is left out, alone; a value of the collector that cannot be read is taken as if
it had not been given. Each is named in a repair, and stays stored as it is.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from . import const
from .air.ducts import read_air, read_fan
from .airflow import AirflowError
from .const import DOMAIN, SUBENTRY_DUCT, SUBENTRY_MACHINE
from .issues import take_back
from .planning import read_layout
from .shop.plan import PlanError
from .stored_fields import (
    AIR_FIELDS,
    COLLECTOR_DEFAULTS,
    NEEDED,
    NEEDED_OF_SENSED,
    OF_COLLECTOR,
    OF_PARTS,
    TOGETHER,
    UPKEEP_FIELDS,
)
from .upkeep.settings import read_upkeep


@dataclass(frozen=True, slots=True)
class Unread:
    """What could not be read: of which part (None: the collector), and which value."""

    part: str | None
    name: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Readable:
    """A system as far as it can be read; described like a config entry."""

    entry_id: str
    title: str
    data: Mapping[str, Any]
    subentries: Mapping[str, ConfigSubentry]
    unread: tuple[Unread, ...] = ()

    def get_subentries_of_type(self, subentry_type: str) -> list[ConfigSubentry]:
        """Return the parts of one type."""
        return [
            part
            for part in self.subentries.values()
            if part.subentry_type == subentry_type
        ]


class UnreadableError(Exception):
    """Raised where nothing can be made of a system; `what` is the value to blame."""

    def __init__(self, what: str) -> None:
        """Keep what is to blame."""
        super().__init__(what)
        self.what = what


def readable(hass: HomeAssistant, entry: ConfigEntry[Any]) -> Readable:
    """Return what can be read of a config entry.

    Raises `UnreadableError` where not even its collector can.
    """
    unread: list[Unread] = []
    data = _read_collector(entry, unread)
    parts: dict[str, ConfigSubentry] = {}
    for part_id, part in entry.subentries.items():
        if (what := wrong_in(part)) is None:
            parts[part_id] = part
        else:
            unread.append(Unread(part_id, part.title, what))
    found = _made(entry, data, parts)
    _drop_what_cannot_be_planned(hass, entry, found, data, parts, unread)
    return _made(entry, data, parts, tuple(unread))


def readable_data(entry: ConfigEntry[Any]) -> Mapping[str, Any]:
    """Return what can be read of a collector's data, for a form to show."""
    try:
        return _read_collector(entry, [])
    except UnreadableError:
        return entry.data


def _made(
    entry: ConfigEntry[Any],
    data: Mapping[str, Any],
    parts: Mapping[str, ConfigSubentry],
    unread: tuple[Unread, ...] = (),
) -> Readable:
    return Readable(
        entry_id=entry.entry_id,
        title=entry.title,
        data=data,
        subentries=parts,
        unread=unread,
    )


def _read_collector(entry: ConfigEntry[Any], unread: list[Unread]) -> dict[str, Any]:
    """Return the collector's data, with the usual where a value cannot be read."""
    data: dict[str, Any] = {}
    for key, value in entry.data.items():
        if (test := OF_COLLECTOR.get(key)) is None or test(value):
            data[key] = value
        else:
            unread.append(Unread(None, entry.title, key))
    if const.CONF_SWITCH not in data:
        raise UnreadableError(const.CONF_SWITCH)
    for key, usual in COLLECTOR_DEFAULTS.items():
        if key not in data:
            data[key] = usual
            if key not in entry.data:
                unread.append(Unread(None, entry.title, key))
    for needs, needed in TOGETHER:
        if data.get(needs) and needed not in data:
            del data[needs]
            if not any(loss.what == needed for loss in unread):
                unread.append(Unread(None, entry.title, needed))
    for fields, read in ((UPKEEP_FIELDS, read_upkeep), (AIR_FIELDS, read_fan)):
        for field in fields:
            try:
                read(data)
                break
            except Exception:  # noqa: BLE001 - whatever is wrong with it
                if field in data:
                    del data[field]
                    unread.append(Unread(None, entry.title, field))
    return data


def wrong_in(part: ConfigSubentry) -> str | None:
    """Return the value of a part that cannot be read; None where all can."""
    tests = OF_PARTS.get(part.subentry_type)
    if tests is None:
        return None
    needed = NEEDED[part.subentry_type]
    data = part.data
    if part.subentry_type == SUBENTRY_MACHINE and const.CONF_SENSOR in data:
        needed += NEEDED_OF_SENSED
        if const.CONF_UNIT in data:
            needed += (const.CONF_START, const.CONF_STOP)
    for key in needed:
        if key not in data:
            return key
    return next(
        (key for key, test in tests.items() if key in data and not test(data[key])),
        None,
    )


def _drop_what_cannot_be_planned(
    hass: HomeAssistant,
    entry: ConfigEntry[Any],
    found: Readable,
    data: dict[str, Any],
    parts: dict[str, ConfigSubentry],
    unread: list[Unread],
) -> None:
    """Leave out, one after the other, what the plan or the air blames."""

    def drop(part_id: str, what: str) -> bool:
        part = parts.pop(part_id, None)
        if part is not None:
            unread.append(Unread(part_id, part.title, what))
        return part is not None

    while True:
        try:
            read_layout(hass, found)
            break
        except PlanError as err:
            dropped = [drop(p.part, p.field) for p in err.problems]
            if not any(dropped):
                if not _reset_collector(entry, data, unread):
                    raise UnreadableError(err.problems[0].field) from err
                found = _made(entry, data, parts)
        except Exception as err:
            if not _drop_culprit(hass, entry, data, parts, drop):
                raise UnreadableError(str(err)) from err
    # The air may be impossible without any part being unreadable: that is told where it
    # is computed. Here only what raises something else is looked for.
    while True:
        try:
            read_air(hass, found)
            break
        except AirflowError as err:
            part = parts.get(err.element)
            if part is None or part.subentry_type != SUBENTRY_DUCT:
                break
            drop(err.element, err.code.removesuffix("_range"))
        except Exception:  # noqa: BLE001 - whatever is wrong with it
            if not any(
                drop(duct.subentry_id, const.CONF_DIAMETER)
                for duct in found.get_subentries_of_type(SUBENTRY_DUCT)
            ):
                break


def _drop_culprit(
    hass: HomeAssistant,
    entry: ConfigEntry[Any],
    data: Mapping[str, Any],
    parts: dict[str, ConfigSubentry],
    drop: Callable[[str, str], bool],
) -> bool:
    """Leave out the parts that cannot be read even alone; False where there is none."""
    culprits = []
    for part_id, part in parts.items():
        try:
            read_layout(hass, _made(entry, data, {part_id: part}))
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            culprits.append((part_id, str(err).strip("'")))
    dropped = [drop(part_id, what) for part_id, what in culprits]
    return any(dropped)


def _reset_collector(
    entry: ConfigEntry[Any], data: dict[str, Any], unread: list[Unread]
) -> bool:
    """Take the usual figures for the collector; False where they are taken already."""
    changed = False
    for key, usual in COLLECTOR_DEFAULTS.items():
        if data[key] != usual:
            data[key] = usual
            unread.append(Unread(None, entry.title, key))
            changed = True
    return changed


@callback
def tell_unread(
    hass: HomeAssistant, entry: ConfigEntry[Any], unread: tuple[Unread, ...]
) -> None:
    """Raise a repair for each value that cannot be read; take back what is mended."""
    prefix = f"unreadable_{entry.entry_id}_"
    wanted = {f"{prefix}{loss.part or ''}_{loss.what}": loss for loss in unread}
    take_back(hass, prefix, but=wanted)
    for issue_id, loss in wanted.items():
        ir.async_create_issue(
            hass,
            DOMAIN,
            issue_id,
            is_fixable=False,
            severity=ir.IssueSeverity.ERROR,
            translation_key="unreadable_value"
            if loss.part is None
            else "unreadable_part",
            translation_placeholders={
                "name": loss.name,
                "system": entry.title,
                "value": loss.what,
            },
        )
