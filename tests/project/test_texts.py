"""No file names a place that exists only on somebody's machine or network."""

from collections.abc import Iterable
from pathlib import Path
import re

import pytest

# Package registries are found through the machine's own configuration.
REGISTRY = re.compile(
    r"(?i)\b(?:pypi\.org|pythonhosted\.org|npmjs\.(?:org|com)|crates\.io|ghcr\.io"
    r"|(?:deb|security|ftp|snapshot)\.debian\.org|(?:archive|security|ports)\.ubuntu\.com)"
    r"|https?://(?:[a-z0-9.-]*/simple|registry\.|files\.|mirrors?\.)"
)
MACHINE_PATH = re.compile(r"(?<![\w./~-])/(?:work|farm|root|home|Users|tmp)/[\w.-]+")
SKIPPED_TEST = re.compile(r"pytest\.(?:skip|xfail|importorskip)|mark\.(?:skip|xfail)")


def matches(pattern: re.Pattern[str], files: Iterable[Path], root: Path) -> list[str]:
    """Return where the pattern occurs, as file:line: text."""
    found = []
    for file in files:
        try:
            lines = file.read_text(encoding="utf-8").splitlines()
        except UnicodeDecodeError:
            continue  # A picture.
        found += [
            f"{file.relative_to(root)}:{number}: {line.strip()}"
            for number, line in enumerate(lines, 1)
            if pattern.search(line)
        ]
    return found


def test_no_file_names_a_package_registry(files: tuple[Path, ...], root: Path) -> None:
    assert matches(REGISTRY, files, root) == []


def test_no_file_names_a_path_of_a_machine(files: tuple[Path, ...], root: Path) -> None:
    assert matches(MACHINE_PATH, files, root) == []


def test_every_test_runs(files: tuple[Path, ...], root: Path) -> None:
    tests = [file for file in files if file.is_relative_to(root / "tests")]
    assert len(tests) > 1
    assert matches(SKIPPED_TEST, tests, root) == []


# Put together here, so that this file follows the rules that it tests.
@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (REGISTRY, "pip install -i https://" + "pypi" + ".org/simple x"),
        (REGISTRY, "index-url = https://packages.example/" + "simple"),
        (REGISTRY, "URIs: http://deb." + "debian.org/debian"),
        (REGISTRY, "https://registry" + ".example/gatewright"),
        (MACHINE_PATH, "cd /" + "home/ada/gatewright"),
        (MACHINE_PATH, '"/' + 'root/x"'),
        (SKIPPED_TEST, "@pytest.mark." + "skip"),
        (SKIPPED_TEST, "pytest." + "xfail('later')"),
    ],
)
def test_the_patterns_find(pattern: re.Pattern[str], text: str) -> None:
    assert pattern.search(text)


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (REGISTRY, "uv is installed from PyPI"),
        (REGISTRY, "https://github.com/gatewright/gatewright"),
        (MACHINE_PATH, "custom_components/work/shop.py"),
        (MACHINE_PATH, "/config/custom_components"),
        (SKIPPED_TEST, "a reading is skipped"),
    ],
)
def test_the_patterns_pass(pattern: re.Pattern[str], text: str) -> None:
    assert not pattern.search(text)
