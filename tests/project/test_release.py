"""A release is the integration alone, under the version of its manifest, with its notes."""

from datetime import date
import json
from pathlib import Path
import subprocess
from types import ModuleType
from zipfile import ZipFile

import pytest

from .scripts_as_modules import load_script

TODAY = date(2026, 12, 1)
CHANGELOG = """# Changelog

Text before.

## Unreleased

### Added

- A gate.

## 0.1.0 - 2026-11-01

- A collector.
"""


@pytest.fixture(scope="module")
def release() -> ModuleType:
    """Return the script that makes releases, as a module."""
    return load_script(Path(__file__).parents[2] / "scripts/release")


def git(tree: Path, *arguments: str) -> None:
    """Run git in a tree."""
    subprocess.run(
        ["git", "-c", "user.name=A", "-c", "user.email=a@example.com", *arguments],  # noqa: S607
        cwd=tree,
        check=True,
        capture_output=True,
    )


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """Return a small committed project at 0.1.0."""
    integration = tmp_path / "custom_components/gatewright"
    (integration / "core").mkdir(parents=True)
    manifest = {"domain": "gatewright", "version": "0.1.0"}
    (integration / "manifest.json").write_text(json.dumps(manifest, indent=2))
    (integration / "__init__.py").write_text('"""One."""\n')
    (integration / "core/sequence.py").write_text('"""Two."""\n')
    (tmp_path / "CHANGELOG.md").write_text(CHANGELOG)
    (tmp_path / "README.md").write_text("Not for the zip.\n")
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", ".")
    git(tmp_path, "commit", "-qm", "Begin")
    return tmp_path


def test_prepare_turns_unreleased_into_the_version(
    release: ModuleType, tree: Path
) -> None:
    release.prepare(tree, "0.2.0", TODAY)
    assert release.manifest_version(tree) == "0.2.0"
    text = (tree / "CHANGELOG.md").read_text()
    assert release.section(text, "Unreleased").strip() == ""
    assert release.notes(tree) == "### Added\n\n- A gate.\n"
    assert "## 0.2.0 - 2026-12-01\n" in text
    assert release.section(text, "0.1.0").strip() == "- A collector."


@pytest.mark.parametrize("version", ["0.1.0", "0.0.9", "0.2", "v0.2.0", "0.02.0"])
def test_prepare_refuses_a_version_that_is_none_or_not_later(
    release: ModuleType, tree: Path, version: str
) -> None:
    before = (tree / "CHANGELOG.md").read_text()
    with pytest.raises(release.ReleaseError, match="isn't"):
        release.prepare(tree, version, TODAY)
    assert (tree / "CHANGELOG.md").read_text() == before


def test_prepare_refuses_a_version_in_which_nothing_changed(
    release: ModuleType, tree: Path
) -> None:
    release.prepare(tree, "0.2.0", TODAY)
    with pytest.raises(release.ReleaseError, match='nothing under "Unreleased"'):
        release.prepare(tree, "0.3.0", TODAY)


def test_check_says_what_is_in_the_way(release: ModuleType, tree: Path) -> None:
    assert release.hindrances(tree, None) == []
    assert release.hindrances(tree, "v0.1.0") == []
    (wrong,) = release.hindrances(tree, "v0.2.0")
    assert "v0.1.0" in wrong
    release.prepare(tree, "0.2.0", TODAY)
    (uncommitted,) = release.hindrances(tree, "v0.2.0")
    assert "manifest.json" in uncommitted
    git(tree, "commit", "-qam", "Prepare 0.2.0")
    assert release.hindrances(tree, "v0.2.0") == []
    (tree / "CHANGELOG.md").write_text("# Changelog\n")
    (silent,) = release.hindrances(tree, "v0.2.0")
    assert "no section for 0.2.0" in silent


def test_the_zip_holds_the_integration_and_nothing_else(
    release: ModuleType, tree: Path, tmp_path: Path
) -> None:
    (tree / "custom_components/gatewright/left_over.pyc").write_text("no")
    first = release.build(tree, tmp_path / "a")
    (tree / "custom_components/gatewright/__init__.py").touch()
    second = release.build(tree, tmp_path / "b")
    assert first.read_bytes() == second.read_bytes()
    with ZipFile(first) as packed:
        assert packed.namelist() == ["__init__.py", "core/sequence.py", "manifest.json"]


def test_this_project_can_be_packed(
    release: ModuleType, root: Path, tmp_path: Path
) -> None:
    with ZipFile(release.build(root, tmp_path)) as packed:
        names = set(packed.namelist())
        version = json.loads(packed.read("manifest.json"))["version"]
    assert version == release.manifest_version(root)
    assert {"__init__.py", "config_flow.py", "translations/en.json"} <= names
    assert not [name for name in names if name.startswith(("tests", "custom_comp"))]
    store = json.loads((root / "hacs.json").read_text())
    assert store["zip_release"] is True
    assert store["filename"] == "gatewright.zip"


def test_each_item_of_the_notes_is_one_line(release: ModuleType) -> None:
    wrapped = """### Added
Said
twice.

1. A gate
   that opens.
2. A duct:
   - of metal,
     grounded
"""
    assert release.unwrapped(wrapped).splitlines() == [
        "### Added",
        "Said twice.",
        "",
        "1. A gate that opens.",
        "2. A duct:",
        "   - of metal, grounded",
    ]
