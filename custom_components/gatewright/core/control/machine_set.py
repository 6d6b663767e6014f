"""All machines of one system: which need dust collection, and through which gates."""

from collections.abc import Callable, Collection, Iterable, Iterator
from functools import partial
from typing import NamedTuple

from ..config import MachineConfig
from .machine import Machine


class MachineNeeds(NamedTuple):
    """What the machines need, all taken together.

    `air` says that any needs dust collection, `wanting` which, in the plan's order,
    `surely` for more than a reading that is lost or doubtful, `starting` that a start is
    being confirmed, `unclear` that a machine may be running for all anybody knows. `gates`
    have to be open for what is needed.
    """

    air: bool
    wanting: tuple[str, ...]
    surely: bool
    starting: bool
    unclear: bool
    gates: frozenset[str]


class MachineSet:
    """The machines in the plan's order, and those at which something goes on.

    Most machines of a shop stand still most of the time: only the `watched` ones are
    looked at until an event concerns another.
    """

    def __init__(self) -> None:
        self.runs: dict[str, Machine] = {}
        self.watched: set[str] = set()
        self._place: dict[str, int] = {}
        self._needs: MachineNeeds | None = None

    def plan(self, machines: Iterable[MachineConfig], now: float) -> None:
        """Take up changed machines; those that stay keep their state."""
        before = self.runs
        self.runs = {}
        for plan in machines:
            run = before.get(plan.machine_id)
            if run is None or (run.sensor is None) is not (plan.levels is None):
                run = Machine(plan, now)
            run.replan(plan)
            self.runs[plan.machine_id] = run
        self._place = {machine_id: place for place, machine_id in enumerate(self.runs)}
        self.watch_all()

    def watch(self, machine_id: str) -> Machine:
        """Return a machine at which something happens."""
        self.watched.add(machine_id)
        self._needs = None
        return self.runs[machine_id]

    def watch_all(self) -> None:
        """Look at every machine the next time."""
        self.watched = set(self.runs)
        self._needs = None

    def forget_requests(self) -> None:
        """Take every request back."""
        for run in self.runs.values():
            run.withdraw()
        self.watch_all()

    def give_up_waiting(self) -> None:
        """End whatever goes on at machines that do not run."""
        for run in self.runs.values():
            run.give_up_waiting()
        self._needs = None

    def advance(
        self,
        now: float,
        *,
        automatic: bool,
        allowed: bool,
        clears: Callable[[Machine], bool],
        patience: float,
        spin_down: float,
    ) -> None:
        """Let time pass up to `now`; `clears` tells whether a purge step has its suction."""
        quiet: list[str] = []
        for run in self.active:
            run.advance(
                now,
                automatic=automatic,
                allowed=allowed,
                air=partial(clears, run),
                patience=patience,
                spin_down=spin_down,
            )
            if run.quiet(now):
                quiet.append(run.plan.machine_id)
        if quiet:
            # A new set: one that was large once stays long to walk through.
            self.watched = self.watched.difference(quiet)
        self._needs = None

    @property
    def needs(self) -> MachineNeeds:
        """What the machines need now, found anew once anything has happened to one."""
        if self._needs is None:
            surely = starting = unclear = False
            wanting: list[str] = []
            gates: set[str] = set()
            for run in self.active:
                starting = starting or run.starting
                unclear = unclear or run.unclear
                if run.wants_collection:
                    wanting.append(run.plan.machine_id)
                    surely = surely or run.proven
                    gates.update(run.wanted_gates)
            self._needs = MachineNeeds(
                bool(wanting),
                tuple(self.in_order(wanting)),
                surely,
                starting,
                unclear,
                frozenset(gates),
            )
        return self._needs

    @property
    def in_use(self) -> list[str]:
        """The machines whose time counts now."""
        return list(filter(self.is_in_use, self.watched))

    def is_in_use(self, machine_id: str) -> bool:
        """Whether a machine's time counts now."""
        return self.runs[machine_id].in_use

    def foresees(self, now: float) -> bool:
        """Whether anything lets a machine's gates open before it is known to run."""
        for run in self.active:
            if run.first_sign.acts or run.early_signal.acts(now):
                return True
        return False

    def foreseen_gates(self, now: float, *, early_signal: bool) -> frozenset[str]:
        """Return the gates of machines that may be running, or soon will be."""
        return frozenset(
            gate
            for run in self.active
            if run.first_sign.acts or (early_signal and run.early_signal.acts(now))
            for gate in run.foreseen_gates
        )

    def linked_devices(self, *, start_block: bool) -> frozenset[str]:
        """Return the linked devices that belong to what goes on.

        Under start block no machine is served; the linked devices of one that runs all the
        same may go on.
        """
        return frozenset(
            linked_device
            for run in self.active
            if (run.in_use if start_block else run.runs_linked_devices)
            for linked_device in run.plan.linked_devices
        )

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for run in self.active:
            if (due := run.due_after(now)) is not None:
                yield due

    def in_order(self, machines: Collection[str] | None = None) -> list[str]:
        """Return some machines in the plan's order, the watched ones unless it says."""
        some = self.watched if machines is None else machines
        if len(some) < 2:
            return list(some)
        return sorted(some, key=self._place.__getitem__)

    @property
    def active(self) -> list[Machine]:
        """The machines at which something goes on."""
        return [self.runs[machine_id] for machine_id in self.watched]
