"""Turns a changed part of Home Assistant into a repair."""

from enum import StrEnum
from types import TracebackType

from homeassistant.const import __version__ as version
from homeassistant.core import HomeAssistant
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ..issues import delete_issue, raise_issue

type Errors = tuple[type[Exception], ...]


class Internal(StrEnum):
    """A part that we rely on; its repair's texts are under `issues.internal_<part>`."""

    AUTOMATIONS = "automations"
    DASHBOARDS = "dashboards"
    EXPOSURE = "exposure"
    RECORDER = "recorder"
    SENTENCES = "sentences"


CHANGED = (ImportError, AttributeError, LookupError, TypeError)
"""The errors of using something that is gone, or that takes and returns something
else."""


_FAILING: HassKey[set[tuple[Internal, str]]] = HassKey(f"{DOMAIN}_internals")


class Reliance:
    """A block that uses a part: if the part has changed, it raises the repair and ends.

    A part has several uses, of which one may work when another doesn't; the repair is
    deleted when all work. `also` are further errors that show a change.
    """

    def __init__(
        self, hass: HomeAssistant, part: Internal, use: str = "", also: Errors = ()
    ) -> None:
        self._hass = hass
        self._part = part
        self._use = (part, use)
        self._errors = (*CHANGED, *also)

    def __enter__(self) -> None:
        """Begin to use the part."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        """Note the result; an error that shows a change ends here."""
        changed = isinstance(error, self._errors)
        failing = self._hass.data.setdefault(_FAILING, set())
        issue_id = f"internal_{self._part}"
        if changed:
            failing.add(self._use)
            raise_issue(
                self._hass,
                issue_id,
                issue_id,
                {
                    "version": version,
                    "error": f"{type(error).__name__}: {error}",
                },
            )
        elif error is None:
            failing.discard(self._use)
            if not any(part == self._part for part, _ in failing):
                delete_issue(self._hass, issue_id)
        return changed
