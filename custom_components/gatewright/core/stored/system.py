"""The stored description of a system's collector, and of what is looked after at it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Any, Final

from ..airflow import INLETS, MARGIN, MATERIALS_CARRIED
from ..config import CollectorConfig, StartWhen, WhenBinFull
from ..maintenance.config import (
    BinConfig,
    CleaningKind,
    FilterCleaningConfig,
    FilterConfig,
    MaintenanceConfig,
    RoomConfig,
    ServiceInterval,
)
from ..units import HOUR
from .phones import StoredPhones
from .table import (
    NAMED,
    At,
    Stored,
    is_anything,
    is_number,
    is_one_of,
    is_signed,
    is_text,
)

USUAL_BIN: Final = BinConfig()
USUAL_CLEANING: Final = FilterCleaningConfig()
USUAL_FILTER: Final = FilterConfig()
USUAL_ROOM: Final = RoomConfig()
USUAL_INLET: Final = "straight"
USUAL_TEMPERATURE: Final = 20.0
USUAL_MARGIN: Final = round(100 * (MARGIN - 1.0))
"""Percent."""

_USUAL: Final = CollectorConfig(name="")


class DischargeKind(StrEnum):
    """Where the collector's air goes: back into the room, or out through a stack."""

    RETURN = "return"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTiming(Stored):
    """How the collector starts and stops; all in s.

    `spin_up` None: what is measured, or usual. `start_when` None: the owner of an older
    system was never asked.
    """

    shutoff_delay: Annotated[float, At("run_on", always=True)] = _USUAL.shutoff_delay
    spin_down: Annotated[float, At("coast", always=True)] = _USUAL.spin_down
    start_delay: Annotated[float, At(always=True)] = _USUAL.start_delay
    confirm_time: Annotated[float, At("confirm", always=True)] = _USUAL.confirm
    spin_up: float | None = None
    start_when: StartWhen | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredMotor(Stored):
    """The motor: `min_off_time` in s, `rating` in W, the wheel in m and kg."""

    min_off_time: Annotated[float, At("rest_time", always=True)] = _USUAL.rest
    starts_per_hour: float | None = None
    rating: Annotated[float | None, At("motor_rating")] = None
    poles: Annotated[
        int | str | None,
        At("motor_poles", check=lambda value: is_text(value) or is_number(value)),
    ] = None
    phases: Annotated[str | None, At("motor_phases")] = None
    wheel_diameter: float | None = None
    wheel_weight: float | None = None


def _several(value: Any) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


def _is_text_or_texts(value: Any) -> bool:
    return isinstance(value, str | list | tuple) and all(map(is_text, value))


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredWatching(Stored):
    """What watches over the collector: entities, and their limits in Pa."""

    fire_detectors: Annotated[
        tuple[str, ...], At("emergency", check=_is_text_or_texts, load=_several)
    ] = ()
    bin_full: str | None = None
    bin_answer: WhenBinFull = WhenBinFull.WARN
    air_supply: str | None = None
    air_supply_low: float | None = None
    filter_pressure: str | None = None
    filter_limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredBin(Stored):
    """The bin: `volume` in m3, readings in the unit of `level`, shares in percent."""

    volume: Annotated[float | None, At("bin_volume")] = None
    level: Annotated[str | None, At("bin_level")] = None
    empty_reading: Annotated[
        float | None, At("bin_empty_reading", check=is_signed, needed_with="bin_level")
    ] = None
    full_reading: Annotated[
        float | None, At("bin_full_reading", check=is_signed, needed_with="bin_level")
    ] = None
    warn: Annotated[float, At("bin_warn")] = 100 * USUAL_BIN.warn_share
    usual: Annotated[float | None, At("bin_usual")] = None

    def plan(self, bin_full: str | None) -> BinConfig | None:
        """Return what is looked after; None where nothing tells about the bin."""
        if (self.volume, self.level, bin_full) == (None, None, None):
            return None
        known = self.level is not None
        return BinConfig(
            volume=USUAL_BIN.volume if self.volume is None else self.volume,
            volume_known=self.volume is not None,
            full_sensor=bin_full is not None,
            empty_reading=self.empty_reading if known else None,
            full_reading=self.full_reading if known else None,
            usual_share=None if self.usual is None else self.usual / 100,
            warn_share=self.warn / 100,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFilter(Stored):
    """The filter's limits: `hours` and `life` in h, `worn` in Pa."""

    hours: Annotated[float | None, At("filter_hours")] = None
    life: Annotated[float | None, At("filter_life")] = None
    worn: Annotated[float | None, At("filter_worn")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredCleaning(Stored):
    """The switch that cleans the filter: `hours` in h, `above` in Pa, the rest in s."""

    switch: Annotated[str | None, At("cleaning")] = None
    kind: Annotated[CleaningKind, At("cleaning_kind")] = USUAL_CLEANING.kind
    wait: Annotated[float, At("cleaning_wait")] = USUAL_CLEANING.wait
    time: Annotated[float, At("cleaning_time")] = USUAL_CLEANING.duration
    times: Annotated[float, At("cleaning_times")] = USUAL_CLEANING.times
    pause: Annotated[float, At("cleaning_pause")] = USUAL_CLEANING.pause
    hours: Annotated[float, At("cleaning_hours")] = USUAL_CLEANING.every / HOUR
    above: Annotated[float | None, At("cleaning_above")] = None
    running: Annotated[bool, At("cleaning_running")] = USUAL_CLEANING.while_running

    def plan(self) -> FilterCleaningConfig | None:
        """Return how the filter is cleaned; None where nothing does."""
        if self.switch is None:
            return None
        return FilterCleaningConfig(
            kind=self.kind,
            wait=self.wait,
            duration=self.time,
            pause=self.pause,
            times=int(self.times),
            every=self.hours * HOUR,
            above=self.above,
            while_running=self.running,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredService(Stored):
    """Something to be done every so many `hours` of running, `starts` or `days`."""

    id: str
    name: str
    hours: float | None = None
    starts: int | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRoom(Stored):
    """The room's air cleaner: m3, m3/s, `clean_below` in mg/m3."""

    cleaner: Annotated[str | None, At("room_cleaner")] = None
    volume: Annotated[float, At("room_volume")] = USUAL_ROOM.volume
    flow: Annotated[float, At("room_flow")] = USUAL_ROOM.flow
    changes: Annotated[float | None, At("room_changes")] = None
    particles: str | None = None
    clean_below: Annotated[float | None, At("particles_clean")] = None

    def plan(self) -> RoomConfig | None:
        """Return how long the cleaner runs; None where there is none."""
        if self.cleaner is None:
            return None
        return RoomConfig(
            volume=self.volume,
            flow=self.flow,
            changes=self.changes,
            clean_below=self.clean_below,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredAir(Stored):
    """Fan, losses and air: m, m3/s, Pa, degrees C, `margin` in percent.

    `fan_points` are pairs of flow and pressure. `altitude` None: that of the home.
    """

    fan_points: tuple[tuple[float, float], ...] = ()
    free_flow: float | None = None
    max_suction: Annotated[float | None, At(needed_with="free_flow")] = None
    inlet_diameter: float | None = None
    inlet: Annotated[str, At(check=is_one_of(INLETS))] = USUAL_INLET
    separator_flow: float | None = None
    separator_loss: Annotated[float | None, At(needed_with="separator_flow")] = None
    filter_flow: Annotated[float | None, At(needed_with="filter_loss")] = None
    filter_loss: float | None = None
    discharge: DischargeKind = DischargeKind.RETURN
    stack_diameter: float | None = None
    stack_length: float = 0.0
    carried: Annotated[str | None, At(check=is_one_of(MATERIALS_CARRIED))] = None
    temperature: Annotated[float, At(check=is_signed)] = USUAL_TEMPERATURE
    altitude: Annotated[float | None, At(check=is_signed)] = None
    suction: str | None = None
    margin: Annotated[float, At("air_margin")] = USUAL_MARGIN
    calibration: Annotated[Mapping[str, Any] | None, At(check=is_anything)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredDrive(Stored):
    """The fan's drive, its speeds in percent, and what is done for the air."""

    entity: Annotated[str | None, At("drive")] = None
    floor: Annotated[float | None, At("drive_floor", needed_with="speed_control")] = (
        None
    )
    ceiling: Annotated[
        float | None, At("drive_ceiling", needed_with="speed_control")
    ] = None
    speed_control: bool = False
    bleed: Annotated[bool, At("relief")] = False
    transport_delay: Annotated[bool, At("transport_run_on")] = False
    together_alarm: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredSystem(Stored):
    """The collector and all that belongs to the whole; `name` is the system's title.

    `monitor_only_since` is the instant since which it only watches (ISO 8601). `remembers` says
    that a memory of modes was written: where it is gone, it has been lost.
    `energy_price` is per kWh.
    """

    BESIDE = NAMED

    part_id: str = ""
    name: str = ""
    switch: str
    power: str | None = None
    hand_gates: Annotated[tuple[str, ...], At(always=True)] = ()
    hide_wrapped: Annotated[bool, At(always=True)] = True
    monitor_only_since: Annotated[
        str | None, At("watch_since", check=is_anything, load=str)
    ] = None
    remembers: Annotated[bool, At(check=is_anything)] = False
    energy_price: float | None = None
    services: tuple[StoredService, ...] = ()
    timing: StoredTiming = field(default_factory=StoredTiming)
    motor: StoredMotor = field(default_factory=StoredMotor)
    watching: StoredWatching = field(default_factory=StoredWatching)
    bin: StoredBin = field(default_factory=StoredBin)
    filter: StoredFilter = field(default_factory=StoredFilter)
    cleaning: StoredCleaning = field(default_factory=StoredCleaning)
    room: StoredRoom = field(default_factory=StoredRoom)
    air: StoredAir = field(default_factory=StoredAir)
    drive: StoredDrive = field(default_factory=StoredDrive)
    phones: StoredPhones = field(default_factory=StoredPhones)

    def plan(self) -> CollectorConfig:
        """Return the collector as the control knows it."""
        timing, motor = self.timing, self.motor
        return CollectorConfig(
            name=self.name,
            shutoff_delay=timing.shutoff_delay,
            spin_down=timing.spin_down,
            start_delay=timing.start_delay,
            confirm=timing.confirm_time,
            rest=motor.min_off_time,
            starts_per_hour=motor.starts_per_hour,
            hand_gates=self.hand_gates,
            bin_answer=self.watching.bin_answer,
            spin_up=timing.spin_up,
            # A system that was set up before there was a choice waits as it did.
            start_when=timing.start_when or StartWhen.GATE_OPEN,
        )

    def maintenance(self) -> MaintenanceConfig:
        """Return what is looked after.

        Nothing is that nobody asked for: a forecast that no one keeps right by saying
        when the bin was emptied would only cry wolf.
        """
        return MaintenanceConfig(
            bin=self.bin.plan(self.watching.bin_full),
            filter=self._filter(),
            services=tuple(
                ServiceInterval(
                    service_id=service.id,
                    name=service.name,
                    after=_seconds(service.hours),
                    starts=service.starts,
                    days=service.days,
                )
                for service in self.services
            ),
            room=self.room.plan(),
        )

    def _filter(self) -> FilterConfig | None:
        cleaning, limit = self.cleaning.plan(), self.watching.filter_limit
        if {cleaning, self.filter.hours, self.filter.life, limit} == {None}:
            return None
        return FilterConfig(
            clean_after=_seconds(self.filter.hours),
            replace_after=_seconds(self.filter.life),
            clean_at=USUAL_FILTER.clean_at if limit is None else limit,
            replace_at=self.filter.worn,
            flow=self.air.filter_flow,
            loss=self.air.filter_loss,
            cleaning=cleaning,
        )


def _seconds(hours: float | None) -> float | None:
    return None if hours is None else hours * HOUR
