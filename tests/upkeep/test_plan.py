"""What is wrong with a description is told, part by part."""

import math

import pytest

from custom_components.gatewright.shop.upkeep.plan import (
    BinPlan,
    CleaningPlan,
    FilterPlan,
    RoomPlan,
    ServiceInterval,
    UpkeepPlan,
    find_problems,
)

SERVICE = ServiceInterval(service_id="belt", name="Belt", after=100.0)


@pytest.mark.parametrize(
    "plan",
    [
        UpkeepPlan(),
        UpkeepPlan(bin=None, filter=None),
        UpkeepPlan(
            bin=BinPlan(empty_reading=0.7, full_reading=-0.1, usual_share=0.9),
            filter=FilterPlan(cleaning=CleaningPlan(every=0.0, wait=0.0, above=1.0)),
            services=(SERVICE, ServiceInterval(service_id="x", name="X", days=1)),
            room=RoomPlan(settle=0.0),
        ),
    ],
)
def test_plans_that_work(plan: UpkeepPlan) -> None:
    assert find_problems(plan) == []


@pytest.mark.parametrize(
    ("plan", "expected"),
    [
        (UpkeepPlan(bin=BinPlan(volume=0.0)), ("bin", "volume", "not_positive")),
        (UpkeepPlan(bin=BinPlan(settle=-1.0)), ("bin", "settle", "negative")),
        (UpkeepPlan(bin=BinPlan(full_share=1.1)), ("bin", "full_share", "above_one")),
        (UpkeepPlan(bin=BinPlan(warn_share=2.0)), ("bin", "warn_share", "above_one")),
        (
            UpkeepPlan(bin=BinPlan(usual_share=0.0)),
            ("bin", "usual_share", "not_positive"),
        ),
        (
            UpkeepPlan(bin=BinPlan(empty_reading=1.0)),
            ("bin", "full_reading", "one_of_two"),
        ),
        (
            UpkeepPlan(bin=BinPlan(empty_reading=1.0, full_reading=1.0)),
            ("bin", "full_reading", "same_reading"),
        ),
        (
            UpkeepPlan(bin=BinPlan(empty_reading=math.inf, full_reading=1.0)),
            ("bin", "empty_reading", "not_finite"),
        ),
        (
            UpkeepPlan(filter=FilterPlan(clean_at=math.nan)),
            ("filter", "clean_at", "not_positive"),
        ),
        (
            UpkeepPlan(filter=FilterPlan(cleaning=CleaningPlan(times=0))),
            ("cleaning", "times", "not_positive"),
        ),
        (
            UpkeepPlan(filter=FilterPlan(cleaning=CleaningPlan(wait=math.inf))),
            ("cleaning", "wait", "negative"),
        ),
        (UpkeepPlan(room=RoomPlan(flow=0.0)), ("room", "flow", "not_positive")),
        (
            UpkeepPlan(services=(ServiceInterval(service_id="a", name="A"),)),
            ("a", "after", "never_due"),
        ),
        (
            UpkeepPlan(services=(ServiceInterval(service_id="a", name="A", days=0),)),
            ("a", "days", "not_positive"),
        ),
        (UpkeepPlan(services=(SERVICE, SERVICE)), ("belt", "service_id", "used_twice")),
    ],
)
def test_plans_that_do_not(plan: UpkeepPlan, expected: tuple[str, str, str]) -> None:
    (problem,) = find_problems(plan)
    assert (problem.part, problem.field, problem.code) == expected
    assert problem.fatal
