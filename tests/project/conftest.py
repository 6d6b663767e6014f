"""The project's files, for the rules."""

from functools import cache
from pathlib import Path
import subprocess

import pytest

ROOT = Path(__file__).parents[2]


@cache
def project_files() -> tuple[Path, ...]:
    """Return every file of the project, including uncommitted ones."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],  # noqa: S607
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    files = tuple(ROOT / name for name in listed.split("\0") if name)
    return tuple(file for file in files if file.is_file())


@pytest.fixture
def root() -> Path:
    """Return the folder of the project."""
    return ROOT


@pytest.fixture
def files() -> tuple[Path, ...]:
    """Return every file of the project."""
    return project_files()
