"""Acts on the airflow as far as the owner allows.

It opens bleed gates, extends the shut-off delay until the ducts are empty, raises an
alarm when the collector is overloaded, and sets the speed of its drive.
"""

from collections.abc import Callable
from functools import partial
import logging
from typing import Final

from homeassistant.const import ATTR_ENTITY_ID
from homeassistant.core import CALLBACK_TYPE, State, callback

from ...core.airflow import (
    Pickup,
    Solution,
    bleed_gates,
    lowest_speed,
    open_pickups,
    solve,
    transit_time,
)
from ...core.airflow.network import OpenGates
from ...core.config import COLLECTOR
from ...core.control.alarms import AlarmKind, Condition
from ...core.control.enums import Phase
from ...core.inputs import BleedGatesChosen, ConditionReported, EmptyingTimeFound
from ...core.stored.system import StoredDrive
from ...runtime.actuator_driver import ServiceCall, call_device
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from .ducts import AirShop
from .source import AirSource

_LOGGER = logging.getLogger(__name__)

# Common practice, no source: fast enough for a machine to reach its airflow soon, slow
# enough for a drive and a belt.
UP: Final = 0.10
DOWN: Final = 0.05
"""The largest change of speed in one step, as a share of the rated speed."""
STEP: Final = 1.0
"""Seconds between two steps."""

LONGEST_SHUTOFF_DELAY: Final = 60.0
"""The longest shut-off delay in s for emptying the ducts."""

_NEAR: Final = 0.005
_TOO_MUCH: Final = Condition(AlarmKind.NOT_ENOUGH_AIR, COLLECTOR)
_NOTHING: Final = StoredDrive()
_WANTING: Final = (Phase.OPENING, Phase.COLLECTING)


class AutomaticAirflowControl:
    """Acts on the figures of the airflow monitor."""

    def __init__(self, system: SystemContext, air: AirSource) -> None:
        self.system = system
        self._air = air
        self.target: float | None = None
        """The target speed as a ratio; None if none is set."""
        self._saved = 0.0
        self._saving = 0.0
        self._at = self.system.now()
        self._unsubs: list[CALLBACK_TYPE] = []
        self._next_step = Timer(system.hass, "gatewright speed", self._step)
        self._failed = self._sending = self._too_much = False
        self._computed: dict[tuple[str, frozenset[object]], object] = {}
        self._under_way: set[tuple[str, frozenset[object]]] = set()
        self._shop: AirShop | None = None

    @callback
    def start(self) -> None:
        """Subscribe to the airflow and to the demand."""
        self._unsubs = [
            self._air.listen(self.look),
            self.system.listen(COLLECTOR, self.look),
        ]
        self.look()

    @callback
    def stop(self) -> None:
        """Stop acting; the drive keeps its speed."""
        while self._unsubs:
            self._unsubs.pop()()
        self._next_step.disarm()

    @property
    def _asked(self) -> StoredDrive:
        """Return the settings of the automatic functions; none without an airflow."""
        return _NOTHING if self._shop is None else self.system.described.system.drive

    @callback
    def look(self) -> None:
        """Act on the current state."""
        if self._shop is not self._air.shop:
            self._shop = self._air.shop
            self._computed.clear()
        with self.system.gather():
            self._relieve()
            self._shutoff_delay()
            self._report_overload()
            self._drive()
            self._book()

    # In a thread -----------------------------------------------------------------

    def _found[T](
        self, what: str, gates: frozenset[object], compute: Callable[[], T]
    ) -> T | None:
        """Return the result for a set of gates; None while it's being computed."""
        key = (what, gates)
        if key in self._computed:
            return self._computed[key]  # type: ignore[return-value]
        if key not in self._under_way:
            self._under_way.add(key)
            self.system.entry.async_create_task(
                self.system.hass,
                self._compute(key, compute, self._shop),
                f"gatewright air {what}",
            )
        return None

    async def _compute(
        self,
        key: tuple[str, frozenset[object]],
        compute: Callable[[], object],
        shop: AirShop | None,
    ) -> None:
        try:
            found = await self.system.hass.async_add_executor_job(compute)
        finally:
            self._under_way.discard(key)
        if self._unsubs:
            if shop is self._shop:
                self._computed[key] = found
            self.look()

    # Relief gates ----------------------------------------------------------------

    def _relieve(self) -> None:
        """Set the gates to open as bleed gates."""
        sequence = self.system.sequence
        wanted: frozenset[str] = frozenset()
        shop = self._shop
        if self._asked.bleed and sequence.phase in _WANTING:
            wanted = sequence.wanted_gates()
        gates: frozenset[str] | None = frozenset()
        if shop is not None and wanted & frozenset(shop.network.gates):
            known = wanted & frozenset(shop.network.gates)
            powered = frozenset(sequence.gates.powered())
            gates = self._found(
                "relief", frozenset(known), partial(_bleed, shop, known, powered)
            )
        # While the next set is being computed, the last one stays.
        if gates is not None and gates != sequence.bleed:
            self.system.handle(BleedGatesChosen(gates))

    # Shut-off delay ----------------------------------------------------------------------

    def _shutoff_delay(self) -> None:
        """Set how long the ducts need to empty after the gates open now."""
        sequence, now = self.system.sequence, self._air.now
        seconds = sequence.least_shutoff_delay
        if not self._asked.transport_delay:
            seconds = 0.0
        elif now and now.solution is not None and sequence.phase in _WANTING:
            seconds = min(LONGEST_SHUTOFF_DELAY, emptying_time(now.solution, now.gates))
        if seconds != sequence.least_shutoff_delay:
            self.system.handle(EmptyingTimeFound(seconds))

    # Too much at once ------------------------------------------------------------

    def _report_overload(self) -> None:
        """Report whether the collector is overloaded, if that changed."""
        in_use = self.system.sequence.machine_set.in_use
        present = (
            self._asked.together_alarm
            and len(in_use) > 1
            and any(self._air.too_low(machine_id) for machine_id in in_use)
        )
        active = _TOO_MUCH in self.system.shop.alarms.standing
        if present is not active or present is not self._too_much:
            self._too_much = present
            self.system.handle(ConditionReported(_TOO_MUCH, present))

    # Speed -----------------------------------------------------------------------

    def _drive(self) -> None:
        """Find a sufficient speed and move the drive towards it."""
        shop, now, asked = self._shop, self._air.now, self._asked
        floor, ceiling = (asked.floor or 0) / 100, (asked.ceiling or 0) / 100
        if self.system.watching or not (
            asked.speed_control and asked.entity is not None
        ):
            self.target = None
        elif shop is not None and now is not None and now.solution is not None:
            found = self._found(
                "speed",
                frozenset(now.gates.items()),
                partial(
                    lowest_speed,
                    shop.network,
                    now.gates,
                    floor=floor,
                    ceiling=ceiling,
                    margin=shop.margin,
                ),
            )
            if found is not None:
                # Rounded up, so that it's still sufficient.
                self.target = min(ceiling, -(-found.speed * 100 // 1) / 100)
        else:
            # Nothing is set while the collector is off: setting a speed would start a
            # fan.
            self.target = None
        if self.target is None:
            self._next_step.disarm()
        elif not self._next_step.armed:
            self._step()

    def _step(self) -> None:
        """Take one step towards the target speed."""
        hass, entity_id = self.system.hass, self._air.drive
        state = None if entity_id is None else hass.states.get(entity_id)
        speed = None if state is None else drive_speed(state)
        if state is None or speed is None or self.target is None:
            return
        if abs(self.target - speed) < _NEAR:
            return
        following = min(speed + UP, max(speed - DOWN, self.target))
        if not self._sending:
            # The next step checks the newest speed again.
            self._sending = True
            self.system.entry.async_create_background_task(
                hass,
                self._send(state.entity_id, following),
                "gatewright sets the speed",
            )
        self._next_step.arm(STEP)

    async def _send(self, entity_id: str, speed: float) -> None:
        hass = self.system.hass
        domain = entity_id.partition(".")[0]
        state = hass.states.get(entity_id)
        data: dict[str, object]
        if domain == "fan" or state is None:
            service, data = "set_percentage", {"percentage": round(speed * 100)}
        else:
            highest = float(state.attributes["max"])
            service, data = "set_value", {"value": round(speed * highest, 2)}
        call = ServiceCall(domain, service, {ATTR_ENTITY_ID: entity_id, **data})
        try:
            error = await call_device(hass, call, self.system.contexts.new())
        finally:
            self._sending = False
        if error is not None and not self._failed:
            _LOGGER.warning("%s did not take the speed: %s", entity_id, error)
        self._failed = error is not None

    # What it saves ---------------------------------------------------------------

    @property
    def saved(self) -> float:
        """Energy (J) saved in the air so far, compared with the rated speed.

        The motor saves more: its own and the fan's losses come on top.
        """
        return self._saved + self._saving * (self.system.now() - self._at)

    def recall(self, joules: float) -> None:
        """Add the savings from before a restart."""
        self._saved += joules

    def _book(self) -> None:
        """Add up the savings, and note the rate from now on."""
        self._saved, self._at = self.saved, self.system.now()
        self._saving = 0.0
        shop, now = self._shop, self._air.now
        if (
            not self._asked.speed_control
            or shop is None
            or now is None
            or now.solution is None
            or now.speed >= 1.0
        ):
            return
        full = self._found(
            "full",
            frozenset(now.gates.items()),
            partial(solve, shop.network, now.gates),
        )
        if full is not None:
            self._saving = max(0.0, full.air_power - now.solution.air_power)


def drive_speed(state: State) -> float | None:
    """Return the speed ratio that a drive's entity shows: a fan or a number.

    A number's highest value is the rated speed.
    """
    try:
        if state.domain == "fan":
            share = float(state.attributes["percentage"]) / 100
        else:
            share = float(state.state) / float(state.attributes["max"])
    except KeyError, TypeError, ValueError, ZeroDivisionError:
        return None
    # A stopped drive doesn't show the speed that it will have.
    return round(share, 2) if 0.05 <= share <= 1.5 else 1.0


def _bleed(
    shop: AirShop, gates: frozenset[str], powered: frozenset[str]
) -> frozenset[str]:
    """Return the extra gates to open so that the main keeps its velocity."""
    candidates = [
        pickup.id
        for pickup in shop.network.system.pickups
        if shop.network.gates_for(pickup.id) <= powered | gates
    ]
    options = bleed_gates(
        shop.network, gates, candidates=candidates, margin=shop.margin
    )
    if not options or not options[0].useful:
        return frozenset()
    return options[0].gates


def emptying_time(solution: Solution, gates: OpenGates) -> float:
    """Return the time (s) that material needs from the farthest open pickup.

    Leakage at a closed gate carries nothing.
    """
    times = []
    for name in open_pickups(solution.network, gates):
        part = solution.network.element(name).part
        if isinstance(part, Pickup) and solution.flow_of(name) > 0:
            times.append(transit_time(solution, name, slip=part.velocity_ratio))
    return max(times, default=0.0)
