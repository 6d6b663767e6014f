"""The stored choice of what phones are sent."""

from dataclasses import dataclass
from enum import StrEnum
import re
from typing import Annotated, Any, Final

from .table import At, Stored

_TIME: Final = re.compile(r"([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?")


class PhoneTopic(StrEnum):
    """What a phone is sent: alarms but for the bin's, the bin's, the day's summary."""

    ALARMS = "alarms"
    BIN = "bin"
    SUMMARY = "summary"


def is_time(value: Any) -> bool:
    """Whether a stored value is a time of day."""
    return isinstance(value, str) and bool(_TIME.fullmatch(value))


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPhones(Stored):
    """Whom to tell what: notify entities, topics, and how.

    `critical` lets serious alarms sound on a silent phone, `buttons` adds buttons that
    note what was done. `summary_at` is a time of day.
    """

    targets: Annotated[tuple[str, ...], At("phones")] = ()
    topics: Annotated[tuple[PhoneTopic, ...], At("phone_topics")] = tuple(PhoneTopic)
    critical: Annotated[bool, At("phone_critical")] = False
    buttons: Annotated[bool, At("phone_buttons")] = True
    summary_at: Annotated[str, At("phone_summary_at", check=is_time)] = "18:00:00"
