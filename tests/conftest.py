"""Fixtures of all tests.

Nothing here starts Home Assistant for a test that doesn't request it: the tests of
`control` and `airflow` are plain Python.
"""

from collections.abc import Generator
import os

from hypothesis import HealthCheck, settings
import pytest
from pytest_homeassistant_custom_component.syrupy import HomeAssistantSnapshotExtension
from syrupy.assertion import SnapshotAssertion
from syrupy.filters import props

# In the demo a person learns soon that something did not happen. A test waits: other work on the
# machine is no failure, and reaction times are measured elsewhere.
os.environ.setdefault("GATEWRIGHT_PATIENCE", "4")

# The test plugin ships a package of this name; the one imported first is the one that
# Home Assistant finds.
import custom_components

assert custom_components.__file__ is not None

# `normal` explores the same examples every time, so that a red run can be repeated;
# `long` (scripts/test --long) looks for new ones. State machines that explore on their
# own scale take their numbers from these profiles as well.
settings.register_profile(
    "normal",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "long",
    deadline=None,
    max_examples=2_000,
    print_blob=True,
    stateful_step_count=100,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("long" if os.environ.get("GATEWRIGHT_LONG") else "normal")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Show the output of a failed test's processes with it."""
    report = yield
    if report.failed and isinstance(item, pytest.Function):
        for fixture in item.funcargs.values():
            for process in ("hub", "broker"):
                tail = getattr(getattr(fixture, process, None), "log_tail", None)
                if tail is not None:
                    report.sections.append((f"end of the {process}'s log", tail()))
    return report


@pytest.fixture(autouse=True)
def _custom_integrations(request: pytest.FixtureRequest) -> None:
    """Let Home Assistant load this repository's integrations in tests that run one."""
    if "hass" not in request.fixturenames:
        return
    if "recorder_mock" in request.fixturenames:
        # The recorder must be prepared before Home Assistant is; asked for below, it
        # would come after.
        request.getfixturevalue("recorder_mock")
    request.getfixturevalue("enable_custom_integrations")


@pytest.fixture
def snapshot(snapshot: SnapshotAssertion) -> SnapshotAssertion:
    """Compare snapshots like Home Assistant, without times and ids.

    Also without what only a later release has in its registries: `scripts/test --next`.
    """
    snapshot = snapshot.use_extension(HomeAssistantSnapshotExtension)
    return snapshot.with_defaults(exclude=props("compat_name"))
