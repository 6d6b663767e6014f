"""Installed versions are declared once, exactly, and agree with Home Assistant."""

from importlib import resources
import json
from pathlib import Path
import re
import subprocess
import tomllib
from typing import Any

from homeassistant.components import assist_pipeline
from homeassistant.components.assist_pipeline.audio_enhancer import (
    MicroVadSpeexEnhancer,
)
from homeassistant.const import REQUIRED_PYTHON_VER, __version__ as hub_version
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
import probatio
import pytest
import voluptuous as vol

PIN = re.compile(r"==[\w.!+]+")


@pytest.fixture
def project(root: Path) -> dict[str, Any]:
    """Return the contents of pyproject.toml."""
    return tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))


def pins(lines: list[str]) -> dict[str, str]:
    """Return name -> version of lines like `name==version`, rejecting anything else."""
    found: dict[str, str] = {}
    for line in lines:
        requirement = Requirement(line)
        assert PIN.fullmatch(str(requirement.specifier)), line
        found[canonicalize_name(requirement.name)] = str(requirement.specifier)[2:]
    return found


def constraints(text: str) -> dict[str, str]:
    """Return the pins of a constraints file."""
    lines = (line.partition("#")[0].strip() for line in text.splitlines())
    return pins([line for line in lines if line])


def test_everything_is_pinned_once(project: dict[str, Any], root: Path) -> None:
    every = constraints((root / "scripts/constraints.txt").read_text(encoding="utf-8"))
    for group in project["dependency-groups"].values():
        direct = pins([entry for entry in group if isinstance(entry, str)])
        assert direct.items() <= every.items()


def test_the_next_release_replaces_pins_and_adds_none(root: Path) -> None:
    now = constraints((root / "scripts/constraints.txt").read_text(encoding="utf-8"))
    every = constraints(
        (root / "scripts/constraints-next.txt").read_text(encoding="utf-8")
    )
    wanted = constraints((root / "scripts/next.txt").read_text(encoding="utf-8"))
    assert wanted.items() <= every.items()
    assert not wanted.items() & now.items()
    plugin = "pytest-homeassistant-custom-component"
    assert every[plugin] == now[plugin]


def test_the_store_offers_it_from_the_oldest_release_tested(root: Path) -> None:
    """`scripts/test --oldest` tries the release that the store and the reader see."""
    oldest = constraints((root / "scripts/oldest.txt").read_text(encoding="utf-8"))
    every = constraints(
        (root / "scripts/constraints-oldest.txt").read_text(encoding="utf-8")
    )
    assert oldest.items() <= every.items()
    store = json.loads((root / "hacs.json").read_text(encoding="utf-8"))
    assert store["homeassistant"] == oldest["homeassistant"]
    readme = (root / "README.md").read_text(encoding="utf-8")
    assert f"Home Assistant {oldest['homeassistant']} or newer" in readme


def test_the_demo_has_what_home_assistant_would_install(
    project: dict[str, Any],
) -> None:
    """Home Assistant starts without installing anything only at its own versions."""
    text = resources.files("homeassistant").joinpath("package_constraints.txt")
    own: dict[str, str] = {
        canonicalize_name(name): version
        for name, version in re.findall(
            r"^([\w.-]+)==(\S+)$", text.read_text(encoding="utf-8"), re.MULTILINE
        )
    }
    demo = pins(project["dependency-groups"]["demo"])
    assert demo.pop("homeassistant") == hub_version
    asked = {name: own[name] for name in demo if name in own}
    assert len(asked) > 3
    assert demo.items() >= asked.items()


def test_versions_agree(project: dict[str, Any], root: Path) -> None:
    oldest = ".".join(str(part) for part in REQUIRED_PYTHON_VER)
    setup = (root / "scripts/setup").read_text(encoding="utf-8")
    every = constraints((root / "scripts/constraints.txt").read_text(encoding="utf-8"))
    assert project["project"]["requires-python"] == f">={oldest}"
    assert f'readonly oldest="{oldest}"' in setup
    assert f'readonly uv_version="{every["uv"]}"' in setup


def test_voluptuous_is_what_mypy_sees(root: Path) -> None:
    """Home Assistant replaces it; tests/typings says the same to mypy."""
    assert vol.Schema is probatio.Schema
    stub = (root / "tests/typings/voluptuous/__init__.pyi").read_text(encoding="utf-8")
    assert "from probatio import *" in stub


def test_stand_ins_are_the_versions_asked_for(root: Path) -> None:
    folder = Path(str(assist_pipeline.__file__)).parent
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    asked = pins(manifest["requirements"])
    for path in (root / "demo/standins").glob("*/pyproject.toml"):
        stand_in = tomllib.loads(path.read_text(encoding="utf-8"))["project"]
        assert asked[canonicalize_name(stand_in["name"])] == stand_in["version"]


def test_stand_ins_fit_the_voice_pipeline() -> None:
    """The sound passes through unchanged, and no voice is detected."""
    enhancer = MicroVadSpeexEnhancer(
        auto_gain=5, noise_suppression=2, is_vad_enabled=True
    )
    chunk = enhancer.enhance_chunk(bytes(range(160)) * 2, timestamp_ms=10)
    assert chunk.audio == bytes(range(160)) * 2
    assert chunk.speech_probability == 0.0


@pytest.mark.parametrize("name", ["scripts/setup", "scripts/test", ".ci/run"])
def test_scripts_can_be_run(name: str, root: Path) -> None:
    script = root / name
    assert script.stat().st_mode & 0o111 == 0o111
    subprocess.run(["bash", "-n", script], check=True)  # noqa: S607
