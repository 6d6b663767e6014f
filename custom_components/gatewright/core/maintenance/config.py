"""The frozen description of what has to be looked after.

All times are seconds, pressures Pa, flows m3/s, volumes m3, concentrations mg/m3.
Figures without a named source are common practice; the owner can change each.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from ..units import HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class BinConfig:
    """The bin and what looks into it.

    `full_sensor` says that there is one; it trips at `full_share` of the bin. A level
    or distance sensor reads `empty_reading` in the empty and `full_reading` in the
    full bin, in whatever unit. A sensor is believed after `settle` seconds.
    `emptied_by_sensor` takes a bin that is seen empty again for emptied.

    `usual_share` is how full the bin is when the owner says "emptied" and no more;
    with None, and no sensor that knows, nothing is learned from it. From
    `warn_share` on the bin counts as nearly full. Where the `volume` is not the owner's
    (`volume_known`) nothing is said of the filling until something has been seen of it.
    """

    volume: float = 0.12
    volume_known: bool = True
    full_sensor: bool = False
    full_share: float = 1.0
    empty_reading: float | None = None
    full_reading: float | None = None
    settle: float = 20.0
    emptied_by_sensor: bool = True
    usual_share: float | None = None
    warn_share: float = 0.8


class CleaningKind(StrEnum):
    """What cleans the filter."""

    PULSE = "pulse"
    SHAKER = "shaker"


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterCleaningConfig:
    """A switch that cleans the filter: a shaker's motor or a pulse valve's timer.

    It is on `times` times for `duration` seconds, `pause` seconds apart, starting
    `wait` seconds after the impeller has stopped. It is due after `every` seconds
    of running since the last time (0: after every stop), or above `above` Pa. With
    `while_running` it need not wait for the impeller.
    """

    kind: CleaningKind = CleaningKind.SHAKER
    wait: float = 5.0
    duration: float = 10.0
    pause: float = 5.0
    times: int = 1
    every: float = HOUR
    above: float | None = None
    while_running: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterConfig:
    """The filter and its limits.

    Due for cleaning after `clean_after` and for replacement after `replace_after`
    seconds of the collector (None: not by hours), and for cleaning above `clean_at`
    Pa at `flow`. Replacing it is due once cleaning leaves more than `replace_at` Pa;
    with None, once it leaves the filter half way from new to `clean_at`. `flow` is
    what pressures are normalized to, where flows come with them; `loss` is that of the
    clean filter there, None where it is not known.
    """

    clean_after: float | None = 20 * HOUR
    replace_after: float | None = 1000 * HOUR
    clean_at: float = 1000.0
    replace_at: float | None = None
    flow: float | None = None
    loss: float | None = None
    cleaning: FilterCleaningConfig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceInterval:
    """Something to be done to the collector every so often; None: not by this.

    `after` is seconds of running, `starts` counts starts, `days` are calendar days.
    """

    service_id: str
    name: str
    after: float | None = None
    starts: int | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomConfig:
    """An air cleaner that runs on for the room's sake.

    It runs on until the particles have been below `clean_below` for `settle`
    seconds, or until it has changed the room's air `changes` times, whichever comes
    first, and `longest` at most; with neither it stops with the work. `volume` is
    the room's, `flow` what the cleaner moves.
    """

    volume: float = 60.0
    flow: float = 0.2
    changes: float | None = 3.0
    clean_below: float | None = None
    settle: float = 60.0
    longest: float = 4 * HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class MaintenanceConfig:
    """What of one system is looked after; None: not there, or not wanted."""

    bin: BinConfig | None = field(default_factory=BinConfig)
    filter: FilterConfig | None = field(default_factory=FilterConfig)
    services: tuple[ServiceInterval, ...] = ()
    room: RoomConfig | None = None
