"""The code forge's files are well formed, and run what a developer runs."""

from pathlib import Path
import re
import stat
from typing import Any

import pytest
import yaml

FORM_FIELDS = {"input", "textarea", "dropdown", "checkboxes"}


def load(path: Path) -> dict[str, Any]:
    """Return the contents of a YAML file."""
    contents: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))
    return contents


def test_workflows_check_what_a_developer_checks(root: Path) -> None:
    steps = [
        step
        for path in (root / ".github/workflows").glob("*.yml")
        for job in load(path)["jobs"].values()
        for step in job["steps"]
    ]
    tests = load(root / ".github/workflows/test.yml")["jobs"]["releases"]
    assert tests["strategy"]["matrix"]["release"] == ["oldest", "next"]
    assert {"bash .ci/run", "bash scripts/test --${{ matrix.release }}"} <= {
        step["run"] for step in steps if "run" in step
    }
    used = [step["uses"].partition("@") for step in steps if "uses" in step]
    # A tag or a branch may point elsewhere tomorrow.
    assert all(re.fullmatch(r"[0-9a-f]{40}", commit) for _, _, commit in used)
    actions = {name for name, _, _ in used}
    assert {"home-assistant/actions/hassfest", "hacs/action"} < actions


def test_a_tag_is_released_only_after_everything_was_checked(root: Path) -> None:
    jobs = load(root / ".github/workflows/release.yml")["jobs"]
    runs = {
        name: [step.get("run") for step in job["steps"]] for name, job in jobs.items()
    }
    assert runs["check"][1:] == [
        'scripts/release check "$GITHUB_REF_NAME"',
        "bash .ci/run",
    ]
    assert jobs["release"]["needs"] == "check"
    built, noted, attested, published = runs["release"][1:]
    assert (built, attested) == ("scripts/release build dist", None)
    assert noted.startswith("scripts/release notes >")
    assert published.startswith("gh release create")
    assert "--verify-tag" in published


@pytest.mark.parametrize("name", ["bug", "question", "wish"])
def test_issue_forms_ask_something_and_say_what_for(name: str, root: Path) -> None:
    form = load(root / f".github/ISSUE_TEMPLATE/{name}.yml")
    assert form["name"]
    assert form["description"]
    fields = [field for field in form["body"] if field["type"] != "markdown"]
    assert {field["type"] for field in fields} <= FORM_FIELDS
    assert all(field["attributes"]["label"] for field in fields)
    names = [field["id"] for field in fields]
    assert len(names) == len(set(names)) > 2
    assert any(field.get("validations", {}).get("required") for field in fields)


def test_what_is_made_is_not_committed(root: Path, files: tuple[Path, ...]) -> None:
    """The environment, the tools and compiled modules stay out of the project."""
    made = {".venv", ".toolchain", "__pycache__", ".mypy_cache", ".demo"}
    assert not [file for file in files if made & set(file.relative_to(root).parts)]


def test_no_file_is_a_link_out_of_the_project(
    root: Path, files: tuple[Path, ...]
) -> None:
    links = [file for file in files if stat.S_ISLNK(file.lstat().st_mode)]
    assert [link for link in links if not link.resolve().is_relative_to(root)] == []
