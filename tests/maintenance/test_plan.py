"""What is wrong with a description is told, part by part."""

import math

import pytest

from custom_components.gatewright.core.maintenance.config import (
    BinConfig,
    FilterCleaningConfig,
    FilterConfig,
    MaintenanceConfig,
    RoomConfig,
    ServiceInterval,
    find_problems,
)

SERVICE = ServiceInterval(service_id="belt", name="Belt", after=100.0)


@pytest.mark.parametrize(
    "plan",
    [
        MaintenanceConfig(),
        MaintenanceConfig(bin=None, filter=None),
        MaintenanceConfig(
            bin=BinConfig(empty_reading=0.7, full_reading=-0.1, usual_share=0.9),
            filter=FilterConfig(
                cleaning=FilterCleaningConfig(every=0.0, wait=0.0, above=1.0)
            ),
            services=(SERVICE, ServiceInterval(service_id="x", name="X", days=1)),
            room=RoomConfig(settle=0.0),
        ),
    ],
)
def test_plans_that_work(plan: MaintenanceConfig) -> None:
    assert find_problems(plan) == []


@pytest.mark.parametrize(
    ("plan", "expected"),
    [
        (
            MaintenanceConfig(bin=BinConfig(volume=0.0)),
            ("bin", "volume", "not_positive"),
        ),
        (MaintenanceConfig(bin=BinConfig(settle=-1.0)), ("bin", "settle", "negative")),
        (
            MaintenanceConfig(bin=BinConfig(full_share=1.1)),
            ("bin", "full_share", "above_one"),
        ),
        (
            MaintenanceConfig(bin=BinConfig(warn_share=2.0)),
            ("bin", "warn_share", "above_one"),
        ),
        (
            MaintenanceConfig(bin=BinConfig(usual_share=0.0)),
            ("bin", "usual_share", "not_positive"),
        ),
        (
            MaintenanceConfig(bin=BinConfig(empty_reading=1.0)),
            ("bin", "full_reading", "one_of_two"),
        ),
        (
            MaintenanceConfig(bin=BinConfig(empty_reading=1.0, full_reading=1.0)),
            ("bin", "full_reading", "same_reading"),
        ),
        (
            MaintenanceConfig(bin=BinConfig(empty_reading=math.inf, full_reading=1.0)),
            ("bin", "empty_reading", "not_finite"),
        ),
        (
            MaintenanceConfig(filter=FilterConfig(clean_at=math.nan)),
            ("filter", "clean_at", "not_positive"),
        ),
        (
            MaintenanceConfig(
                filter=FilterConfig(cleaning=FilterCleaningConfig(times=0))
            ),
            ("cleaning", "times", "not_positive"),
        ),
        (
            MaintenanceConfig(
                filter=FilterConfig(cleaning=FilterCleaningConfig(wait=math.inf))
            ),
            ("cleaning", "wait", "negative"),
        ),
        (
            MaintenanceConfig(room=RoomConfig(flow=0.0)),
            ("room", "flow", "not_positive"),
        ),
        (
            MaintenanceConfig(services=(ServiceInterval(service_id="a", name="A"),)),
            ("a", "after", "never_due"),
        ),
        (
            MaintenanceConfig(
                services=(ServiceInterval(service_id="a", name="A", days=0),)
            ),
            ("a", "days", "not_positive"),
        ),
        (
            MaintenanceConfig(services=(SERVICE, SERVICE)),
            ("belt", "service_id", "used_twice"),
        ),
    ],
)
def test_plans_that_do_not(
    plan: MaintenanceConfig, expected: tuple[str, str, str]
) -> None:
    (problem,) = find_problems(plan)
    assert (problem.part, problem.field, problem.code) == expected
    assert problem.fatal
