"""One real Home Assistant and one browser for all tests of the cards."""

from collections.abc import AsyncGenerator, Iterable
from pathlib import Path

import pytest
import pytest_asyncio
import pytest_socket

from demo.hub import Hub
from demo.hub_directory import prepare

from . import shop
from .browser import Chromium
from .stage import Stage

HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: Iterable[pytest.Item]) -> None:
    """Run all tests here in the loop of Home Assistant and the browser."""
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker(pytest.mark.asyncio(loop_scope="session"), append=False)
            # They share one Home Assistant and one browser.
            item.add_marker(pytest.mark.xdist_group("frontend"))


@pytest.fixture(autouse=True)
def verify_cleanup() -> None:
    """Skip the check for leftovers: what the tests share keeps running between them."""


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Allow a test the loopback address; the test plugin forbids all sockets."""


@pytest_asyncio.fixture(loop_scope="session", scope="session")
async def chromium() -> AsyncGenerator[Chromium]:
    """Start the browser."""
    async with Chromium() as browser:
        yield browser


@pytest_asyncio.fixture(loop_scope="session", scope="session")
async def stage(
    tmp_path_factory: pytest.TempPathFactory, chromium: Chromium
) -> AsyncGenerator[Stage]:
    """Start a Home Assistant with the virtual workshop, both systems, and pages of their cards."""
    pytest_socket.enable_socket()
    path = tmp_path_factory.mktemp("hub") / "config"
    directory = prepare(path, workshop=shop.quick(), extra_yaml=shop.hall_yaml())
    shop.seed(directory)
    async with Hub(directory) as hub, Stage(hub, chromium) as stage:
        yield stage
        assert stage.troubles() == []


@pytest_asyncio.fixture(loop_scope="session", scope="module")
async def busy(stage: Stage) -> AsyncGenerator[Stage]:
    """Keep the yard busy for all tests of a module."""
    pytest_socket.enable_socket()
    await stage.busy()
    yield stage
    await stage.rest()
