"""Simulated shops with a known truth, above all the fill rates."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
import math
import random

from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.maintenance import fill_rates
from custom_components.gatewright.core.maintenance.bin import BinMonitor
from custom_components.gatewright.core.maintenance.config import BinConfig

WITH_A_MOTOR = [
    MachineKind.TABLE_SAW,
    MachineKind.BAND_SAW,
    MachineKind.PLANER,
    MachineKind.JOINTER,
    MachineKind.MITER_SAW,
    MachineKind.DRUM_SANDER,
    MachineKind.ROUTER_TABLE,
    MachineKind.LATHE,
    MachineKind.SANDER,
    MachineKind.TOOL_HOSE,
]
BEGIN = datetime(2026, 1, 5, 8, tzinfo=UTC)


@dataclass(frozen=True)
class Noise:
    """Standard deviations: of one run's chips, of a day's, of where the sensor trips."""

    run: float = 0.25
    day: float = 0.10
    trip: float = 0.03


@dataclass
class SimulatedShop:
    """A shop whose machines differ from their kinds, with work that changes daily.

    `rates` are the true ones, in shares of the bin per hour of running; they differ
    from those of the kinds by a factor for the shop and one for each machine.
    """

    seed: int
    noise: Noise = Noise()
    machines: int | None = None
    kinds: dict[str, MachineKind] = field(init=False)
    rates: dict[str, float] = field(init=False)

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)
        count = self.machines or self.random.randint(3, 7)
        self.kinds = {
            kind.value: kind for kind in self.random.sample(WITH_A_MOTOR, count)
        }
        self.plan = BinConfig(
            volume=self.random.choice([0.12, 0.2, 0.3]), full_sensor=True, settle=0.0
        )
        shop = math.exp(self.random.gauss(0, 0.5))
        self.rates = {
            machine_id: rate * shop * math.exp(self.random.gauss(0, 0.5))
            for machine_id, rate in fill_rates.usual(
                self.kinds, self.plan.volume
            ).items()
        }
        self.liking = {m: math.exp(self.random.gauss(0, 0.6)) for m in self.kinds}
        self._runs = self._work()

    def rise(self, hours: dict[str, float]) -> float:
        """Return how much these hours fill the bin on average."""
        return sum(self.rates[m] * spent for m, spent in hours.items())

    def filling(self) -> dict[str, float]:
        """Return the hours of each machine until the bin is full again."""
        left = 1 + self.random.gauss(0, self.noise.trip)
        hours: dict[str, float] = {}
        while left > 0:
            machine_id, spent, share = next(self._runs)
            part = min(1.0, left / share)
            hours[machine_id] = hours.get(machine_id, 0.0) + spent * part
            left -= share
        return hours

    def _around(self, spread: float) -> float:
        return math.exp(self.random.gauss(0, spread) - spread**2 / 2)

    def _work(self) -> Iterator[tuple[str, float, float]]:
        """Yield runs: the machine, its hours, its share of the bin."""
        while True:
            today = {m: liking * self._around(0.5) for m, liking in self.liking.items()}
            wood = {m: self._around(self.noise.day) for m in self.kinds}
            for _ in range(self.random.randint(5, 20)):
                (machine_id,) = self.random.choices(list(today), list(today.values()))
                # Five minutes on average; nobody fills half a bin in one go.
                spent = min(
                    self.random.expovariate(1 / 0.08), 0.5 / self.rates[machine_id]
                )
                made = self.rates[machine_id] * spent * wood[machine_id]
                yield machine_id, spent, made * self._around(self.noise.run)


def emptied(bin_: BinMonitor, hours: dict[str, float], number: int) -> None:
    """Fill a bin with a full sensor in these hours, until it trips and is emptied."""
    when = BEGIN + timedelta(days=number)
    for machine_id, spent in hours.items():
        bin_.fill(machine_id, spent * 3600)
    bin_.read_full(True, now=10.0 * number)
    bin_.advance(10.0 * number, when, at_rest=True)
    bin_.emptied(when)
    bin_.read_full(False, now=10.0 * number + 5)
    bin_.advance(10.0 * number + 5, when, at_rest=True)
