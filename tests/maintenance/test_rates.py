"""What emptyings teach, in simulated shops with known rates."""

from functools import cache
import math
from statistics import median

import pytest
from scipy.optimize import nnls

from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.maintenance import fill_rates
from custom_components.gatewright.core.maintenance.bin import BinMonitor
from custom_components.gatewright.core.maintenance.fill_rates import Observation, Rates
from tests.maintenance.shops import Noise, SimulatedShop, emptied

SHOPS = 100


@cache
def learned(seed: int, fillings: int, noise: Noise) -> tuple[SimulatedShop, Rates]:
    shop = SimulatedShop(seed, noise)
    bin_ = BinMonitor(shop.plan, shop.kinds)
    for number in range(fillings):
        emptied(bin_, shop.filling(), number)
    assert len(bin_.observations) == fillings
    return shop, bin_.rates


REALISTIC = Noise()
EXACT = Noise(run=0.0, day=0.0, trip=0.0)


def misses_of_the_usual_work(
    fillings: int, noise: Noise = REALISTIC, shops: int = SHOPS
) -> list[float]:
    """Return the relative error of each shop's forecast for its usual work."""
    return [
        abs(known.rise(shop.liking) / shop.rise(shop.liking) - 1)
        for shop, known in (learned(seed, fillings, noise) for seed in range(shops))
    ]


def within(misses: list[float], share: float) -> float:
    return sum(miss <= share for miss in misses) / len(misses)


def test_after_five_emptyings_the_usual_work_is_foreseen_within_a_tenth() -> None:
    """Of a hundred shops; half of them are off by a fortieth at most.

    The chips of a run vary by a quarter, those of a day by a tenth, the level at
    which the sensor trips by 3 %, the work from day to day.
    """
    misses = misses_of_the_usual_work(5)
    assert within(misses, 0.10) >= 0.95
    assert median(misses) < 0.03


def test_after_five_emptyings_the_next_filling_is_foreseen_within_a_tenth() -> None:
    """Whatever its work is, against the true rates: in 17 of 20 shops.

    The rest goes to fillings by a machine that hardly ran in the five before.
    """
    misses = []
    for seed in range(SHOPS):
        shop = SimulatedShop(seed)
        bin_ = BinMonitor(shop.plan, shop.kinds)
        for number in range(5):
            emptied(bin_, shop.filling(), number)
        hours = shop.filling()
        misses.append(abs(bin_.rates.rise(hours) / shop.rise(hours) - 1))
    assert within(misses, 0.10) >= 0.82
    assert within(misses, 0.20) >= 0.95
    assert median(misses) < 0.045


def test_every_emptying_helps() -> None:
    medians = [
        median(misses_of_the_usual_work(count, shops=40)) for count in (0, 1, 3, 8)
    ]
    assert medians == sorted(medians, reverse=True)
    assert medians[0] > 0.25


def test_without_noise_the_rates_are_found() -> None:
    misses = misses_of_the_usual_work(8, EXACT, shops=40)
    assert median(misses) < 0.005
    assert within(misses, 0.05) >= 0.95


def test_kinds_help_where_the_emptyings_are_few() -> None:
    """Plain least squares over the same emptyings are off by a quarter more."""
    bare = []
    for seed in range(SHOPS):
        shop = SimulatedShop(seed)
        fillings = [shop.filling() for _ in range(5)]
        table = [[hours.get(m, 0.0) for m in shop.kinds] for hours in fillings]
        found, _ = nnls(table, [1.0] * 5)
        guess = sum(
            rate * shop.liking[m] for m, rate in zip(shop.kinds, found, strict=True)
        )
        bare.append(abs(guess / shop.rise(shop.liking) - 1))
    misses = misses_of_the_usual_work(5)
    assert rms(misses) < rms(bare) / 1.25


def rms(misses: list[float]) -> float:
    return math.sqrt(sum(miss**2 for miss in misses) / len(misses))


def test_error_is_what_it_says() -> None:
    """Two of three trips within one standard deviation, nineteen of twenty in two."""
    scores = []
    for seed in range(SHOPS):
        shop = SimulatedShop(seed + 1000)
        bin_ = BinMonitor(shop.plan, shop.kinds)
        for number in range(5):
            emptied(bin_, shop.filling(), number)
        hours = shop.filling()
        scores.append(abs(bin_.rates.rise(hours) - 1) / bin_.rates.error(hours))
    assert 0.60 <= within(scores, 1) <= 0.85
    assert 0.90 <= within(scores, 2) <= 0.99


def test_rates_are_never_below_zero() -> None:
    """More of the planer went with less in the bin: it gets none, not less than that."""
    usually = fill_rates.usual(
        {"saw": MachineKind.TABLE_SAW, "planer": MachineKind.PLANER}, 0.12
    )
    seen = [
        Observation(hours={"saw": 10.0, "planer": 0.0}, share=1.0, error=0.001),
        Observation(hours={"saw": 10.0, "planer": 9.0}, share=0.7, error=0.001),
    ]
    known = fill_rates.learn(seen * 4, usually)
    assert min(known.per_hour.values()) >= 0
    assert known.per_hour["saw"] == pytest.approx(0.1, rel=0.35)


def test_an_emptying_that_nobody_reported_counts_less() -> None:
    """Of eight, the fourth had twice the hours: emptied in between, without a word."""
    misses = []
    for seed in range(40):
        shop = SimulatedShop(seed)
        bin_ = BinMonitor(shop.plan, shop.kinds)
        for number in range(8):
            hours = shop.filling()
            if number == 3:
                for machine_id, spent in shop.filling().items():
                    hours[machine_id] = hours.get(machine_id, 0.0) + spent
            emptied(bin_, hours, number)
        misses.append(bin_.rates.rise(shop.liking) / shop.rise(shop.liking) - 1)
    assert median(abs(miss) for miss in misses) < 0.06
    assert median(misses) > -0.05


def test_rates_follow_a_shop_that_changes() -> None:
    """A fifth more chips from some day on: more than half is learned by the eighth."""
    usually = fill_rates.usual({"saw": MachineKind.TABLE_SAW}, 0.12)
    before = [Observation(hours={"saw": 10.0}, share=1.0, error=0.03)] * 12
    since = [Observation(hours={"saw": 10 / 1.2}, share=1.0, error=0.03)] * 12
    found = [
        fill_rates.learn(before + since[:count], usually).per_hour["saw"]
        for count in (0, 3, 8, 12)
    ]
    assert found == sorted(found)
    assert found[0] == pytest.approx(0.1, rel=0.01)
    assert found[2] > 0.111
    assert found[3] == pytest.approx(0.12, rel=0.05)


def test_rates_follow_a_shop_that_doubles() -> None:
    """The first emptyings look like mistakes; a dozen do not."""
    usually = fill_rates.usual({"saw": MachineKind.TABLE_SAW}, 0.12)
    before = [Observation(hours={"saw": 10.0}, share=1.0, error=0.03)] * 12
    since = [Observation(hours={"saw": 5.0}, share=1.0, error=0.03)] * 12
    assert fill_rates.learn(before + since[:1], usually).per_hour["saw"] < 0.105
    known = fill_rates.learn(before + since, usually)
    assert known.per_hour["saw"] == pytest.approx(0.2, rel=0.15)
    # It doesn't claim a high certainty.
    assert known.work > fill_rates.learn(since, usually).work


def test_machine_that_was_never_seen_follows_its_shop() -> None:
    """A shop with three times the chips of its kinds expects as much of a new machine."""
    usually = fill_rates.usual(
        {"saw": MachineKind.TABLE_SAW, "lathe": MachineKind.LATHE}, 0.12
    )
    seen = [
        Observation(hours={"saw": 1 / 3 / usually["saw"]}, share=1.0, error=0.03)
    ] * 5
    known = fill_rates.learn(seen, usually)
    assert known.per_hour["saw"] == pytest.approx(3 * usually["saw"], rel=0.02)
    assert 2 < known.per_hour["lathe"] / usually["lathe"] < 3.1


def test_before_the_first_emptying_the_kinds_are_all_there_is() -> None:
    kinds = {kind.value: kind for kind in MachineKind}
    known = fill_rates.learn([], fill_rates.usual(kinds, 0.1))
    assert known.per_hour["planer"] == pytest.approx(1.2)
    assert known.per_hour == pytest.approx(fill_rates.usual(kinds, 0.1))
    hours = {"planer": 0.5}
    assert known.error(hours) == pytest.approx(
        known.rise(hours) * math.sqrt(0.8**2 + 0.5**2 + 0.1**2)
    )


def test_every_kind_has_a_rate() -> None:
    assert fill_rates.LITERS_PER_HOUR.keys() == set(MachineKind)
    assert fill_rates.load_kind("planer") is MachineKind.PLANER
    assert fill_rates.load_kind("of a later version") is MachineKind.OTHER
