"""One real Home Assistant, broker, workshop and phone for all tests here."""

from collections.abc import AsyncGenerator, Iterable
from pathlib import Path

import pytest
import pytest_asyncio
import pytest_socket

from .shop import PartsShop, parts_shop

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: Iterable[pytest.Item]) -> None:
    """Run all tests here in the loop of Home Assistant and the phone."""
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker(pytest.mark.asyncio(loop_scope="package"), append=False)


@pytest.fixture(autouse=True)
def verify_cleanup() -> None:
    """Skip the check for leftovers: what the tests share keeps running between them."""


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
    """Provide the workshop at rest, and leave it so."""
    yield started_shop
    await started_shop.tidy_up()
