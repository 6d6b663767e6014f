"""Keeps the airflow of one system computed for the gates open now.

The network is solved when the set of open gates or the collector's speed changes, never
on a power reading. A usual shop takes well under a millisecond and is solved at once; a
very large one in a thread.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Final

from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    callback,
)
from homeassistant.helpers.event import async_track_state_change_event

from ...const import CONF_FILTER_PRESSURE, CONF_SUCTION
from ...core.airflow import (
    AirflowError,
    Assessment,
    Diagnosis,
    Solution,
    Verdict,
    assess,
    solve,
)
from ...core.config import COLLECTOR
from ...runtime.entity_references import to_entity_id
from ...runtime.issues import delete_issue, raise_issue
from ...runtime.listeners import Listeners
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from .automatic_control import AutomaticAirflowControl, drive_speed
from .duct_tree import Tree
from .ducts import AirShop, read_air
from .gauges import Gauges
from .judgment import JudgedAirflow
from .open_shares import OpenShares
from .snapshot import AirNow, Gates

INLINE: Final = 60
"""Up to this many ducts and pickups a network is solved at once: below 2 ms."""

STEADY: Final = 10.0
"""Seconds after a change of gates or speed until readings are compared.

Common practice, no source: the impeller has reached its speed, the sensor its value.
"""

_REMEMBERED: Final = 256

type Key = tuple[frozenset[tuple[str, float]], float]


class AirflowManager:
    """The airflow of one system, as its gates and collector are now."""

    def __init__(self, system: SystemContext) -> None:
        self.system = system
        self.shop: AirShop | None = None
        self.now: AirNow | None = None
        self.alone: Mapping[str, Assessment] = {}
        self.diagnosis: Diagnosis | None = None
        self.readings: dict[str, float] = {}
        self.seen: Counter[frozenset[str]] = Counter()
        """How often each set of gates was open while the collector ran."""
        self.control = AutomaticAirflowControl(system, self)
        self.judged = JudgedAirflow()
        self.gauges = Gauges(system, self)
        self._tree = Tree(system)
        self._listeners = Listeners[[]]("The airflow cannot be shown")
        self.listen = self._listeners.add
        """Calls a listener when any figure changes; returns a function that removes it."""
        self._unsubs: list[CALLBACK_TYPE] = []
        self._follow: list[CALLBACK_TYPE] = []
        self._steady = Timer(system.hass, "gatewright air steady", self._compare)
        self._solved: dict[Key, Solution] = {}
        self._open = OpenShares()
        self._turned: Key | None = None
        self._since = 0.0

    @callback
    def start(self) -> None:
        """Subscribe to the plan, the gates and the collector."""
        self._unsubs = [self.system.on_replan(self.replan)]
        self.replan()
        self.control.start()

    @callback
    def stop(self) -> None:
        """Unsubscribe from everything."""
        self.control.stop()
        for unsub in (*self._unsubs, *self._follow):
            unsub()
        self._unsubs, self._follow = [], []
        self._steady.disarm()

    @callback
    def replan(self) -> None:
        """Apply what the owner entered."""
        system = self.system
        self._tree.mend()
        issue = f"air_impossible_{system.entry.entry_id}"
        try:
            self.shop = read_air(system.hass, system.described)
        except AirflowError as err:
            self.shop = None
            part = system.entry.subentries.get(err.element)
            raise_issue(
                system.hass,
                issue,
                "air_impossible",
                {
                    "system": system.entry.title,
                    "part": system.entry.title if part is None else part.title,
                    "reason": str(err),
                },
            )
        else:
            delete_issue(system.hass, issue)
        self.gauges.replan(None if self.shop is None else self.shop.network)
        self._with_loading(self.gauges.loading)
        self._solved.clear()
        self.judged = (
            JudgedAirflow() if self.shop is None else JudgedAirflow(self.shop.margin)
        )
        self.seen.clear()
        self._turned = None
        self.alone = {}
        for unsub in self._follow:
            unsub()
        self._follow = [] if self.shop is None else self._followed(self.shop)
        self._look()
        if self.shop is not None:
            system.entry.async_create_task(
                system.hass, self._solve_alone(self.shop), "gatewright air alone"
            )

    def _followed(self, shop: AirShop) -> list[CALLBACK_TYPE]:
        """Subscribe to everything that the airflow depends on."""
        system = self.system
        follow = [
            system.listen(part, self._look) for part in (COLLECTOR, *shop.network.gates)
        ]
        if (drive := self.drive) is not None:
            follow.append(
                async_track_state_change_event(system.hass, drive, self._driven)
            )
        sensors = [*self.pressures.values()]
        if sensors:
            follow.append(
                async_track_state_change_event(system.hass, sensors, self._measured)
            )
        return follow

    @property
    def drive(self) -> str | None:
        """The entity of the fan's drive; None without one."""
        stored = self.system.described.system.drive.entity
        return None if stored is None else to_entity_id(self.system.hass, stored)

    @property
    def pressures(self) -> dict[str, str]:
        """The pressure sensors' entities by their fields."""
        system = self.system.described.system
        return {
            field: entity_id
            for field, stored in (
                (CONF_SUCTION, system.air.suction),
                (CONF_FILTER_PRESSURE, system.watching.filter_pressure),
            )
            if stored and (entity_id := to_entity_id(self.system.hass, stored))
        }

    # What can be read off --------------------------------------------------------

    def machine_flow(self, machine_id: str) -> float | None:
        """Return a machine's present flow, m3/s; None if unknown."""
        if self.now is None or self.shop is None or not self._is_placed(machine_id):
            return None
        solution = self.now.solution
        return 0.0 if solution is None else self.shop.flow(solution.pickups, machine_id)

    def machine_alone(self, machine_id: str) -> float | None:
        """Return a machine's flow when it's the only one served, m3/s."""
        found = self.alone.get(machine_id)
        if found is None or self.shop is None:
            return None
        return self.shop.flow(found.solution.pickups, machine_id)

    def too_low(self, machine_id: str) -> bool | None:
        """Return whether a machine in use, with open gates, gets too little flow."""
        short = self.falls_short(machine_id)
        run = self.system.sequence.machines.get(machine_id)
        if short is None or run is None:
            return None
        served = self.system.sequence.is_collecting(machine_id, self.system.now())
        return run.in_use and served and short

    def falls_short(self, machine_id: str) -> bool | None:
        """Return whether a machine gets less than it needs with the gates open now.

        None if its flow or its need isn't known.
        """
        found = self.verdict(machine_id)
        return None if found is None else found is Verdict.TOO_LITTLE

    def verdict(self, machine_id: str) -> Verdict | None:
        """Return the verdict on a machine's flow with the gates open now.

        None if its flow or its need isn't known. While the collector is off it's too
        low.
        """
        return self.judged.machines.get(machine_id)

    def served_verdict(self, machine_id: str) -> Verdict | None:
        """Return the verdict on a machine that is in use with its gates open."""
        run = self.system.sequence.machines.get(machine_id)
        if run is None or not run.in_use:
            return None
        served = self.system.sequence.is_collecting(machine_id, self.system.now())
        return self.verdict(machine_id) if served else None

    def _is_placed(self, machine_id: str) -> bool:
        need = None if self.shop is None else self.shop.needs.get(machine_id)
        return need is not None and need.placed

    # How it follows --------------------------------------------------------------

    @callback
    def _driven(self, _event: Event[EventStateChangedData]) -> None:
        self._look()

    @callback
    def _look(self) -> None:
        """Check the gates, and solve the network if they changed."""
        shop = self.shop
        sequence, slides = self.system.sequence, self.system.slides
        motor = sequence.motor
        gates = None
        if shop is not None:
            gates = self._open.read(
                shop.network.gates, sequence.gates, slides, self.system.now()
            )
        speed = self.speed()
        if (
            shop is None
            or gates is None
            or speed is None
            or not motor.actuator.reachable
        ):
            self._turned = None
            self._show(None)
            return
        if not motor.up_to_speed(self.system.now()):
            self._turned = None
            self._show(
                AirNow(gates=gates, speed=speed, solution=None, since=self.system.now())
            )
            return
        key = (frozenset(gates.items()), speed)
        if key == self._turned:
            return
        # A gate that still moves while the collector starts makes no combination.
        if gates and (self._turned is None or self._turned[0] != key[0]):
            self.seen[frozenset(gates)] += 1
        self._turned, self._since = key, self.system.now()
        solving = partial(solve, shop.network, gates, speed=speed)
        if (solution := self._solved.get(key)) is not None:
            self._take(key, gates, solution)
        elif len(shop.network.elements) <= INLINE:
            self._take(key, gates, solving())
        else:
            self.system.entry.async_create_task(
                self.system.hass,
                self._solve_apart(key, gates, solving),
                "gatewright air",
            )

    async def _solve_apart(
        self, key: Key, gates: Gates, solving: Callable[[], Solution]
    ) -> None:
        solution = await self.system.hass.async_add_executor_job(solving)
        # Another gate may have moved meanwhile: the newest set counts.
        if key == self._turned:
            self._take(key, gates, solution)

    async def _solve_alone(self, shop: AirShop) -> None:
        """Compute what each machine gets on its own."""
        alone = await self.system.hass.async_add_executor_job(_alone, shop)
        if self.shop is shop:
            self.alone = alone
            self.notify()

    @property
    def controls_speed(self) -> bool:
        """Whether we set the fan's speed."""
        drive = self.system.described.system.drive
        return drive.entity is not None and drive.speed_control

    def speed(self) -> float | None:
        """Return the fan's speed as a ratio; None if its drive doesn't report it."""
        if self.system.described.system.drive.entity is None:
            return 1.0
        entity_id = self.drive
        state = None if entity_id is None else self.system.hass.states.get(entity_id)
        return None if state is None else drive_speed(state)

    def _take(self, key: Key, gates: Gates, solution: Solution) -> None:
        while len(self._solved) >= _REMEMBERED:
            del self._solved[next(iter(self._solved))]
        self._solved[key] = solution
        self._show(
            AirNow(gates=gates, speed=key[1], solution=solution, since=self._since)
        )

    def _show(self, now: AirNow | None) -> None:
        before, self.now = self.now, now
        if before is not now:
            self.judged.judge(self.shop, now)
        self.diagnosis = None
        self._steady.disarm()
        if now is not None and now.solution is not None:
            self._steady.arm(STEADY)
        if before is not now:
            self.notify()

    def notify(self) -> None:
        """Notify everything that shows the airflow."""
        self._listeners.call()

    # Measured against computed ---------------------------------------------------

    @callback
    def _measured(self, _event: Event[EventStateChangedData]) -> None:
        # Not on every reading: the next comparison is due when the last one has been
        # shown for a while.
        if not self._steady.armed and self.now is not None and self.now.solution:
            self._steady.arm(STEADY)

    @property
    def calibrated(self) -> bool:
        """Whether the figures were fitted to this shop."""
        return self.shop is not None and self.shop.calibration is not None

    def _compare(self) -> None:
        """Compare the readings with the computed values for a clean filter."""
        self.gauges.compare(self.now, calibrated=self.calibrated)

    @callback
    def load_filter(self, loading: float) -> None:
        """Compute with the filter's present loading from now on."""
        diagnosis = self.diagnosis
        self._with_loading(loading)
        self._solved.clear()
        self._turned = None
        self._look()
        self.diagnosis = diagnosis
        self._steady.disarm()
        if self.shop is not None:
            self.system.entry.async_create_task(
                self.system.hass, self._solve_alone(self.shop), "gatewright air alone"
            )

    def _with_loading(self, loading: float) -> None:
        """Set the filter's loading."""
        network = self.gauges.clean
        if self.shop is not None and network is not None:
            if loading != 1.0 and network.filter > 0:
                network = network.adjusted(loading=loading)
            self.shop = replace(self.shop, network=network)


def _alone(shop: AirShop) -> dict[str, Assessment]:
    return {
        machine_id: assess(shop.network, need.gates)
        for machine_id, need in shop.needs.items()
        if need.placed
    }
