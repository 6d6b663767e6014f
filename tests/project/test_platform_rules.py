"""The platform's own rules for a custom integration, as far as they can be checked here.

The tool for these checks is part of Home Assistant's repository, not of its package:
each rule here is written from the platform's documentation.
"""

import ast
from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.const import Platform
from homeassistant.util.yaml import load_yaml_dict
import pytest

COMPONENT = Path(__file__).parents[2] / "custom_components/gatewright"

USED_WITHOUT_A_WORD = {
    *(platform.value for platform in Platform),
    "automation",
    "conversation",
    "diagnostics",
    "homeassistant",
    "input_boolean",
    "persistent_notification",
    "repairs",
    "system_health",
    "websocket_api",
}
"""Parts of Home Assistant that always exist, or that import us rather than the reverse
(from memory of the platform's list, and only those in use)."""

RULES = {
    "bronze": (
        "action-setup",
        "appropriate-polling",
        "brands",
        "common-modules",
        "config-flow",
        "config-flow-test-coverage",
        "dependency-transparency",
        "docs-actions",
        "docs-conditions",
        "docs-high-level-description",
        "docs-installation-instructions",
        "docs-removal-instructions",
        "docs-triggers",
        "entity-event-setup",
        "entity-unique-id",
        "has-entity-name",
        "runtime-data",
        "test-before-configure",
        "test-before-setup",
        "unique-config-entry",
    ),
    "silver": (
        "action-exceptions",
        "config-entry-unloading",
        "docs-configuration-parameters",
        "docs-installation-parameters",
        "entity-unavailable",
        "integration-owner",
        "log-when-unavailable",
        "parallel-updates",
        "reauthentication-flow",
        "test-coverage",
    ),
    "gold": (
        "devices",
        "diagnostics",
        "discovery",
        "discovery-update-info",
        "docs-data-update",
        "docs-examples",
        "docs-known-limitations",
        "docs-supported-devices",
        "docs-supported-functions",
        "docs-troubleshooting",
        "docs-use-cases",
        "dynamic-devices",
        "entity-category",
        "entity-device-class",
        "entity-disabled-by-default",
        "entity-translations",
        "exception-translations",
        "icon-translations",
        "reconfiguration-flow",
        "repair-issues",
        "stale-devices",
    ),
    "platinum": ("async-dependency", "inject-websession", "strict-typing"),
}
"""The rules of the platform's integration quality scale, by tier."""


def read_json(name: str) -> Any:
    return json.loads((COMPONENT / name).read_text("utf-8"))


def read_yaml(name: str) -> dict[str, Any]:
    return load_yaml_dict(str(COMPONENT / name))


def modules() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted(COMPONENT.rglob("*.py")):
        source = path.read_text("utf-8")
        yield str(path.relative_to(COMPONENT)), ast.parse(source)


# The manifest -------------------------------------------------------------------


def test_the_manifest_says_everything_in_its_order() -> None:
    manifest = read_json("manifest.json")
    rest = list(manifest)[2:]

    assert list(manifest)[:2] == ["domain", "name"]
    assert rest == sorted(rest)
    assert manifest["domain"] == COMPONENT.name
    assert manifest["config_flow"] is True
    assert manifest["integration_type"] == "device"
    assert manifest["iot_class"] == "calculated"
    for address in ("documentation", "issue_tracker"):
        assert manifest[address].startswith("https://")
    assert re.fullmatch(r"\d+\.\d+\.\d+", manifest["version"])
    assert isinstance(manifest["codeowners"], list)
    assert "requirements" not in manifest


def imported(node: ast.AST) -> Iterator[str]:
    """Yield every name by which a statement may import a module."""
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom) and not node.level:
        yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_every_component_that_is_imported_is_named() -> None:
    manifest = read_json("manifest.json")
    named = {
        *manifest.get("dependencies", ()),
        *manifest.get("after_dependencies", ()),
    }
    used: dict[str, str] = {}
    for name, module in modules():
        for node in ast.walk(module):
            for module_name in imported(node):
                parts = module_name.split(".")
                # A component loads its own platforms, so they exist.
                if parts[:2] == ["homeassistant", "components"] and (
                    parts[2] != name.removesuffix(".py")
                ):
                    used[parts[2]] = name

    assert used
    missing = {
        f"{component} in {where}"
        for component, where in used.items()
        if component not in named | USED_WITHOUT_A_WORD
    }
    assert not missing


def test_the_setup_from_yaml_is_refused() -> None:
    names = {
        target.id
        for node in dict(modules())["__init__.py"].body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    assert "CONFIG_SCHEMA" in names


@pytest.mark.parametrize(
    "platform", [p for p in Platform if (COMPONENT / f"{p.value}.py").exists()]
)
def test_every_platform_says_how_many_updates_it_bears(platform: Platform) -> None:
    source = (COMPONENT / f"{platform.value}.py").read_text("utf-8")
    assert re.search(r"^PARALLEL_UPDATES = 0$", source, re.MULTILINE)


# The quality scale -----------------------------------------------------------------


def test_the_quality_scale_answers_every_rule() -> None:
    answers = read_yaml("quality_scale.yaml")["rules"]

    assert set(answers) == {rule for tier in RULES.values() for rule in tier}
    for rule, answer in answers.items():
        if answer == "done":
            continue
        assert answer["status"] in {"done", "exempt"}, rule
        assert len(answer["comment"].split()) >= 6, rule


def test_the_pictures_have_their_sizes() -> None:
    for name, size in (("icon.png", 256), ("icon@2x.png", 512)):
        for dark in ("", "dark_"):
            data = (COMPONENT / "brand" / f"{dark}{name}").read_bytes()
            assert data[:8] == b"\x89PNG\r\n\x1a\n"
            assert int.from_bytes(data[16:20]) == int.from_bytes(data[20:24]) == size
