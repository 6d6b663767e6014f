"""Arrows point one way: the hub's modules know the core, the core knows nobody."""

import ast
from collections.abc import Iterator
from pathlib import Path
import sys

import pytest

INTEGRATION = "custom_components.gatewright"
LONGEST_MODULE = 450

# The core is told what happens and when. It reads no clock, no file, no network, draws
# no lots and starts nothing.
IMPURE = {
    "asyncio",
    "concurrent",
    "ftplib",
    "http",
    "io",
    "logging",
    "multiprocessing",
    "os",
    "pathlib",
    "random",
    "secrets",
    "shutil",
    "signal",
    "smtplib",
    "socket",
    "sqlite3",
    "ssl",
    "subprocess",
    "tempfile",
    "threading",
    "time",
    "urllib",
}
IMPURE_CALLS = {"open", "print", "input", "breakpoint"}
CLOCK_CALLS = {"now", "today", "utcnow"}


def imported_modules(tree: ast.Module, package: str) -> Iterator[str]:
    """Yield the absolute name of every module that is imported anywhere in the tree."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if not node.level:
                yield node.module or ""
                continue
            parts = package.split(".")
            base = parts[: len(parts) - node.level + 1]
            if node.module:
                yield ".".join([*base, node.module])
            else:
                yield from (".".join([*base, alias.name]) for alias in node.names)


def offences(source: str, package: str, *homes: str) -> list[str]:
    """Return what a module in `package` does that one below the first home may not do.

    It may import what is below any of the homes.
    """
    tree = ast.parse(source)
    found = [
        f"imports {name}"
        for name in imported_modules(tree, package)
        if not f"{name}.".startswith(tuple(f"{home}." for home in homes))
        and (
            name.partition(".")[0] not in sys.stdlib_module_names
            or name.partition(".")[0] in IMPURE
        )
    ]
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        match node.func:
            case ast.Name(id=name) if name in IMPURE_CALLS:
                found.append(f"calls {name}()")
            case ast.Attribute(
                attr=name,
                value=ast.Name(id="datetime" | "date" | "dt")
                | ast.Attribute(attr="datetime" | "date"),
            ) if name in CLOCK_CALLS:
                found.append(f"reads the clock with {name}()")
    return found


@pytest.mark.parametrize(
    ("part", "beside"), [("shop", ()), ("airflow", ()), ("stored", ("shop", "airflow"))]
)
def test_the_core_is_plain_python(
    part: str, beside: tuple[str, ...], root: Path
) -> None:
    folder = root / "custom_components" / "gatewright" / part
    homes = [f"{INTEGRATION}.{name}" for name in (part, *beside)]
    modules = sorted(folder.rglob("*.py"))
    assert modules
    found = {}
    for module in modules:
        inside = module.parent.relative_to(folder).parts
        text = module.read_text(encoding="utf-8")
        if wrong := offences(text, ".".join([homes[0], *inside]), *homes):
            found[str(module.relative_to(root))] = wrong
    assert found == {}


def test_the_plan_knows_the_rest_of_the_core_and_nobody_else(root: Path) -> None:
    folder = root / "custom_components" / "gatewright" / "core" / "plan"
    home = f"{INTEGRATION}.core.plan"
    core = tuple(f"imports {INTEGRATION}.{part}" for part in ("shop", "airflow"))
    modules = sorted(folder.glob("*.py"))
    assert modules
    for module in modules:
        found = offences(module.read_text(encoding="utf-8"), home, home)
        assert [wrong for wrong in found if not wrong.startswith(core)] == [], module


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("import math\nfrom .plan import Gate", []),
        ("from . import plan\nfrom ..shop import plan", []),
        ("from homeassistant.core import callback", ["imports homeassistant.core"]),
        ("from ..airflow import fan", [f"imports {INTEGRATION}.airflow"]),
        ("from .. import const", [f"imports {INTEGRATION}.const"]),
        ("from ..const import DOMAIN", [f"imports {INTEGRATION}.const"]),
        (f"import {INTEGRATION}.shopping", [f"imports {INTEGRATION}.shopping"]),
        ("def late():\n    import time", ["imports time"]),
        ("import os.path", ["imports os.path"]),
        ("print(1)", ["calls print()"]),
        ("x = datetime.now()", ["reads the clock with now()"]),
        ("x = datetime.datetime.now(UTC)", ["reads the clock with now()"]),
        ("x = ledger.now()", []),
    ],
)
def test_offences_are_found(source: str, expected: list[str]) -> None:
    home = f"{INTEGRATION}.shop"
    assert offences(source, home, home) == expected


def test_modules_are_of_readable_length(files: tuple[Path, ...], root: Path) -> None:
    modules = [
        file
        for file in files
        if file.suffix == ".py"
        and file.relative_to(root).parts[0] in {"custom_components", "demo"}
    ]
    assert modules
    lengths = {
        str(file.relative_to(root)): len(file.read_text(encoding="utf-8").splitlines())
        for file in modules
    }
    assert {
        name: length for name, length in lengths.items() if length > LONGEST_MODULE
    } == {}


def test_no_module_asks_for_old_annotations(files: tuple[Path, ...]) -> None:
    """Annotations are lazy in the Python that is needed."""
    for file in files:
        if file.suffix not in {".py", ".pyi"}:
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        assert "__future__" not in set(imported_modules(tree, "")), file
