"""One real Home Assistant, broker, workshop and phone for all tests here."""

from collections.abc import AsyncGenerator, Iterable
from pathlib import Path

import pytest
import pytest_asyncio
import pytest_socket

from .shop import PartsShop, parts_shop

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: Iterable[pytest.Item]) -> None:
    """Let all tests here run in the loop that Home Assistant and the phone belong to."""
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker(pytest.mark.asyncio(loop_scope="package"), append=False)


@pytest.fixture(autouse=True)
def verify_cleanup() -> None:
    """Do not look for leftovers: what the tests share goes on between them."""


@pytest_asyncio.fixture(loop_scope="package", scope="package")
async def started_shop(
    tmp_path_factory: pytest.TempPathFactory,
) -> AsyncGenerator[PartsShop]:
    """Set the workshop up in its own Home Assistant."""
    pytest_socket.enable_socket()
    async with parts_shop(tmp_path_factory.mktemp("parts")) as shop:
        yield shop


@pytest_asyncio.fixture(loop_scope="package")
async def shop(started_shop: PartsShop) -> AsyncGenerator[PartsShop]:
    """Find the workshop at rest, and leave it so."""
    yield started_shop
    await started_shop.tidy_up()
