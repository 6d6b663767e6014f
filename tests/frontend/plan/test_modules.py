"""The plan's modules without a browser: their results for a drawing.

Node comes with Playwright's driver, so nothing has to be installed.
"""

import asyncio
from pathlib import Path
import re

from playwright._impl._driver import compute_driver_executable
import pytest

import custom_components.gatewright

HERE = Path(__file__).parent
FRONTEND = Path(custom_components.gatewright.__file__).parent / "frontend"
FILES = sorted(HERE.glob("*.test.mjs"))


async def run(*arguments: str) -> tuple[int, str]:
    """Run node; return its exit code and output."""
    node, _ = compute_driver_executable()
    process = await asyncio.create_subprocess_exec(
        node,
        *arguments,
        env={"FRONTEND": str(FRONTEND)},
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
    )
    said, _ = await process.communicate()
    assert process.returncode is not None
    return process.returncode, said.decode()


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
async def test_module(file: Path) -> None:
    code, said = await run("--test", "--test-reporter=tap", str(file))
    assert code == 0, said
    passed = re.search(r"^# pass (\d+)$", said, re.MULTILINE)
    skipped = re.search(r"^# skipped (\d+)$", said, re.MULTILINE)
    assert passed is not None
    assert skipped is not None
    assert int(passed[1]) > 2, said
    assert int(skipped[1]) == 0, said


async def test_there_are_files() -> None:
    assert len(FILES) > 4
