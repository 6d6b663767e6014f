"""Turns a part of Home Assistant that is no longer what it was into a repair."""

from enum import StrEnum
from types import TracebackType

from homeassistant.const import __version__ as version
from homeassistant.core import HomeAssistant
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ..issues import delete_issue, raise_issue

type Errors = tuple[type[Exception], ...]


class Internal(StrEnum):
    """A part that is relied upon; its repair's texts are under `issues.internal_<part>`."""

    AUTOMATIONS = "automations"
    DASHBOARDS = "dashboards"
    EXPOSURE = "exposure"
    RECORDER = "recorder"
    SENTENCES = "sentences"


CHANGED = (ImportError, AttributeError, LookupError, TypeError)
"""What is raised by using something that is gone, or that takes and returns something else."""


_FAILING: HassKey[set[tuple[Internal, str]]] = HassKey(f"{DOMAIN}_internals")


class Reliance:
    """A block that uses a part: where it has changed, its repair is raised and the block left.

    A part has several uses, of which one may work when another doesn't; the repair is taken
    back when all do. `also` are further errors by which a change shows.
    """

    def __init__(
        self, hass: HomeAssistant, part: Internal, use: str = "", also: Errors = ()
    ) -> None:
        self._hass = hass
        self._part = part
        self._use = (part, use)
        self._errors = (*CHANGED, *also)

    def __enter__(self) -> None:
        """Begin to use it."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        """Take note of how it went; an error by which a change shows ends here."""
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
