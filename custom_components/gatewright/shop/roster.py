"""All machines of one system: which of them want air, and through which gates."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial

from .machines import MachineRun
from .plan import Machine


class Roster:
    """The machines in the plan's order, and those at which something goes on.

    Most machines of a shop stand still most of the time: only the `watched` ones are
    looked at until an event concerns another.
    """

    def __init__(self) -> None:
        """Start without machines."""
        self.runs: dict[str, MachineRun] = {}
        self.watched: set[str] = set()
        self._place: dict[str, int] = {}

    def plan(self, machines: Iterable[Machine], now: float) -> None:
        """Take up changed machines; those that stay keep their state."""
        before = self.runs
        self.runs = {}
        for plan in machines:
            run = before.get(plan.machine_id)
            if run is None or (run.sensor is None) is not (plan.levels is None):
                run = MachineRun(plan, now)
            run.replan(plan)
            self.runs[plan.machine_id] = run
        self._place = {machine_id: place for place, machine_id in enumerate(self.runs)}
        self.watch_all()

    def watch(self, machine_id: str) -> MachineRun:
        """Return a machine at which something happens."""
        self.watched.add(machine_id)
        return self.runs[machine_id]

    def watch_all(self) -> None:
        """Look at every machine the next time."""
        self.watched = set(self.runs)

    def forget_requests(self) -> None:
        """Take every request back."""
        for run in self.runs.values():
            run.withdraw()
        self.watch_all()

    def give_up_waiting(self) -> None:
        """End whatever goes on at machines that do not run."""
        for run in self.runs.values():
            run.give_up_waiting()

    def advance(
        self,
        now: float,
        *,
        automatic: bool,
        allowed: bool,
        clears: Callable[[MachineRun], bool],
        patience: float,
        spin_down: float,
    ) -> None:
        """Let time pass up to `now`; `clears` tells whether a clearing step has air."""
        for machine_id in list(self.watched):
            run = self.runs[machine_id]
            run.advance(
                now,
                automatic=automatic,
                allowed=allowed,
                air=partial(clears, run),
                patience=patience,
                spin_down=spin_down,
            )
            if run.quiet(now):
                self.watched.discard(machine_id)

    @property
    def in_use(self) -> list[str]:
        """The machines whose time counts now."""
        return [m for m in self.watched if self.runs[m].in_use]

    @property
    def wanting(self) -> tuple[str, ...]:
        """The machines that want air."""
        return tuple(m for m in self.in_order() if self.runs[m].wants_air)

    @property
    def wants_air(self) -> bool:
        """Whether any machine wants air."""
        return any(run.wants_air for run in self._active())

    @property
    def wants_air_surely(self) -> bool:
        """Whether a machine wants air for more than a reading that is lost or doubtful."""
        return any(run.wants_air and run.proven for run in self._active())

    @property
    def starting(self) -> bool:
        """Whether the start of any machine is being confirmed."""
        return any(run.starting for run in self._active())

    @property
    def unclear(self) -> bool:
        """Whether any machine may be running for all anybody knows."""
        return any(run.unclear for run in self._active())

    @property
    def wanted_gates(self) -> frozenset[str]:
        """The gates that have to be open for what the machines want."""
        return frozenset(gate for run in self._active() for gate in run.wanted_gates)

    def foreseen_gates(self, now: float, *, foretold: bool) -> frozenset[str]:
        """Return the gates of machines that may be running, or soon will be."""
        return frozenset(
            gate
            for run in self._active()
            if run.first_sign.acts or (foretold and run.foretold.acts(now))
            for gate in run.foreseen_gates
        )

    def companions(self, *, lockout: bool) -> frozenset[str]:
        """Return the companions that belong to what goes on.

        Under lockout no machine is served; the companions of one that runs all the
        same may go on.
        """
        return frozenset(
            companion
            for run in self._active()
            if (run.in_use if lockout else run.runs_companions)
            for companion in run.plan.companions
        )

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for run in self._active():
            if (due := run.due_after(now)) is not None:
                yield due

    def in_order(self, machines: Iterable[str] | None = None) -> list[str]:
        """Return some machines in the plan's order, the watched ones unless it says."""
        some = self.watched if machines is None else machines
        return sorted(some, key=self._place.__getitem__)

    def _active(self) -> list[MachineRun]:
        return [self.runs[machine_id] for machine_id in self.watched]
