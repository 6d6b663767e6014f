"""Imports point one way, the core is plain Python, and every name is unique."""

import ast
from collections.abc import Iterator
from pathlib import Path
import sys

import pytest

from .structure import Structure, measure

INTEGRATION = "custom_components.gatewright"
LONGEST_MODULE = {"custom_components": 400, "demo": 420}

# The core is told what happens and when. It reads no clock, no file, no network, draws no random
# numbers and starts nothing.
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


def offences(source: str, package: str, home: str) -> list[str]:
    """Return the forbidden actions of a module in `package`, below `home`."""
    tree = ast.parse(source)
    found = [
        f"imports {name}"
        for name in imported_modules(tree, package)
        if not f"{name}.".startswith(f"{home}.")
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


def test_the_core_is_plain_python(root: Path) -> None:
    folder = root / "custom_components/gatewright/core"
    home = f"{INTEGRATION}.core"
    modules = sorted(folder.rglob("*.py"))
    assert modules
    found = {}
    for module in modules:
        inside = module.parent.relative_to(folder).parts
        text = module.read_text(encoding="utf-8")
        if wrong := offences(text, ".".join([home, *inside]), home):
            found[str(module.relative_to(root))] = wrong
    assert found == {}


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("import math\nfrom .config import GateConfig", []),
        ("from . import config\nfrom ..core import config", []),
        ("from homeassistant.core import callback", ["imports homeassistant.core"]),
        ("from ..runtime import store", [f"imports {INTEGRATION}.runtime"]),
        ("from .. import const", [f"imports {INTEGRATION}.const"]),
        ("from ..const import DOMAIN", [f"imports {INTEGRATION}.const"]),
        (f"import {INTEGRATION}.coreless", [f"imports {INTEGRATION}.coreless"]),
        ("def late():\n    import time", ["imports time"]),
        ("import os.path", ["imports os.path"]),
        ("print(1)", ["calls print()"]),
        ("x = datetime.now()", ["reads the clock with now()"]),
        ("x = datetime.datetime.now(UTC)", ["reads the clock with now()"]),
        ("x = ledger.now()", []),
    ],
)
def test_offences_are_found(source: str, expected: list[str]) -> None:
    home = f"{INTEGRATION}.core"
    assert offences(source, home, home) == expected


def test_modules_are_of_readable_length(files: tuple[Path, ...], root: Path) -> None:
    modules = [
        file
        for file in files
        if file.suffix == ".py" and file.relative_to(root).parts[0] in LONGEST_MODULE
    ]
    assert modules
    lengths = {
        str(file.relative_to(root)): len(file.read_text(encoding="utf-8").splitlines())
        for file in modules
    }
    assert {
        name: length
        for name, length in lengths.items()
        if length > LONGEST_MODULE[name.partition("/")[0]]
    } == {}


def test_no_module_asks_for_old_annotations(files: tuple[Path, ...]) -> None:
    """Annotations are lazy in the required Python."""
    for file in files:
        if file.suffix not in {".py", ".pyi"}:
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        assert "__future__" not in set(imported_modules(tree, "")), file


@pytest.fixture(scope="module")
def structure() -> Structure:
    """Return the figures from the integration's imports."""
    return measure(Path(__file__).parents[2] / "custom_components/gatewright")


def test_control_is_given_numbers_and_knows_no_airflow(structure: Structure) -> None:
    assert {
        module
        for module, others in structure.imports.items()
        if module.startswith("core/control/")
        and any(other.startswith("core/airflow") for other in others)
    } == set()


def test_no_module_imports_itself_in_a_circle(structure: Structure) -> None:
    """Imports for types count: a circle of those is still a circle to read."""
    assert structure.circles == []


def test_arrows_point_down(structure: Structure) -> None:
    assert len(structure.upward) <= 4, structure.upward


def test_the_top_holds_what_home_assistant_demands(structure: Structure) -> None:
    assert len(structure.extras) <= 4, structure.extras


def test_no_two_types_share_a_name(structure: Structure) -> None:
    assert structure.doubled == []


def test_few_know_the_control_loop_or_the_system(structure: Structure) -> None:
    assert len(structure.composer_users) <= 10, structure.composer_users


def test_faults_of_structure_are_found(tmp_path: Path) -> None:
    for name, text in {
        "__init__.py": "",
        "extra.py": "from .core import a\n",
        "core/__init__.py": "",
        "core/a.py": "from . import b\nfrom ..features import c\nclass Twice: ...\n",
        "core/b.py": "if TYPE_CHECKING:\n    from .a import Twice\n",
        "features/__init__.py": "",
        "features/c.py": "from ..system import System\nclass Twice: ...\n",
        "system.py": "class System: ...\n",
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    found = measure(tmp_path)
    assert found.circles == [["core/a", "core/b"]]
    assert found.upward == [("core/a", "features/c"), ("features/c", "system")]
    assert found.extras == ["extra", "system"]
    assert found.doubled == ["Twice"]
    assert found.composer_users == ["features/c"]
    assert found.lengths["core/a"] == 3
