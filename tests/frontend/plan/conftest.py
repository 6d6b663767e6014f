"""A Home Assistant with the demo's machines and gates, twice."""

from collections.abc import AsyncGenerator

import pytest
import pytest_asyncio
import pytest_socket

from demo.hub import Hub
from demo.hub_directory import prepare

from . import board, workshop


@pytest_asyncio.fixture(loop_scope="session", scope="module")
async def hub(tmp_path_factory: pytest.TempPathFactory) -> AsyncGenerator[Hub]:
    """Start a Home Assistant with the demo's machines and gates."""
    pytest_socket.enable_socket()
    path = tmp_path_factory.mktemp("plan") / "config"
    directory = prepare(path, extra_yaml=workshop.yaml())
    workshop.seed(directory)
    async with Hub(directory) as running:
        await board.add_pages(running)
        yield running
