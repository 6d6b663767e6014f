"""The structure of the integration in figures, from its own imports.

`python -m tests.project.structure` prints them. Imports for type checking count as
well.
"""

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

INTEGRATION = Path("custom_components/gatewright")

DEMANDED = {
    "__init__", "binary_sensor", "button", "condition", "config_flow", "const", "cover", "diagnostics",
    "entity", "event", "intent", "llm", "logbook", "repairs", "select", "sensor", "services", "switch",
    "backup", "system_health", "trigger",
}  # fmt: skip
"""Modules that Home Assistant looks for by name at the top of an integration."""

SHARED = {"const", "entity"}
"""Modules that have to be at the top and that everybody may import."""

FLOORS = {"core": 0, "texts": 1, "runtime": 2, "features": 3, "forms": 3}
"""The level of each folder; whatever is at the top of the integration is above all of them."""

TOP = 4
COMPOSERS = {"runtime/control_loop", "system"}


@dataclass(frozen=True)
class Structure:
    """The figures from the imports and definitions of an integration.

    Modules are named by their path below the integration, without the suffix; a package
    by its folder.
    """

    lengths: dict[str, int]
    imports: dict[str, set[str]]
    types: Counter[str]

    @property
    def circles(self) -> list[list[str]]:
        """Return the groups of modules that import each other, directly or not."""
        return [sorted(group) for group in _components(self.imports) if len(group) > 1]

    @property
    def upward(self) -> list[tuple[str, str]]:
        """Return the imports of something on a higher level."""
        return sorted(
            (module, other)
            for module, others in self.imports.items()
            for other in others
            if other not in SHARED and _floor(other) > _floor(module)
        )

    @property
    def extras(self) -> list[str]:
        """Return the modules at the top that Home Assistant doesn't require."""
        return sorted(
            module
            for module in self.lengths
            if module and "/" not in module and module not in DEMANDED
            and not any(other.startswith(f"{module}/") for other in self.lengths)
        )  # fmt: skip

    @property
    def doubled(self) -> list[str]:
        """Return the names of more than one type."""
        return sorted(name for name, times in self.types.items() if times > 1)

    @property
    def composer_users(self) -> list[str]:
        """Return the modules that import the control loop or the system."""
        return sorted(
            module
            for module, others in self.imports.items()
            if others & COMPOSERS and module not in COMPOSERS
        )


def measure(integration: Path) -> Structure:
    """Read every module below `integration`."""
    files = {_name(file, integration): file for file in integration.rglob("*.py")}
    trees = {
        name: ast.parse(file.read_text(encoding="utf-8"))
        for name, file in files.items()
    }
    return Structure(
        lengths={
            name: len(file.read_text(encoding="utf-8").splitlines())
            for name, file in files.items()
        },
        imports={
            name: set(_imported(tree, name, files[name].stem == "__init__", files))
            for name, tree in trees.items()
        },
        types=Counter(
            node.name
            for tree in trees.values()
            for node in tree.body
            if isinstance(node, ast.ClassDef)
        ),
    )


def _name(file: Path, integration: Path) -> str:
    path = file.relative_to(integration).with_suffix("").as_posix()
    return path.removesuffix("__init__").rstrip("/") if "/" in path else path


def _imported(
    tree: ast.Module, name: str, is_package: bool, known: dict[str, Path]
) -> Iterator[str]:
    home = (
        name.split("/") if is_package and name != "__init__" else name.split("/")[:-1]
    )
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        base = home[: len(home) - node.level + 1]
        base += node.module.split(".") if node.module else []
        for alias in node.names:
            for target in ("/".join([*base, alias.name]), "/".join(base)):
                if target in known and target != name:
                    yield target
                    break


def _floor(module: str) -> int:
    return FLOORS.get(module.partition("/")[0], TOP)


def _components(graph: dict[str, set[str]]) -> list[set[str]]:
    """Return the strongly connected components (Tarjan 1972), without recursion."""
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[set[str]] = []
    for root, others in graph.items():
        if root in index:
            continue
        work = [(root, iter(others))]
        index[root] = low[root] = len(index)
        stack.append(root)
        while work:
            node, rest = work[-1]
            for other in rest:
                if other not in index:
                    index[other] = low[other] = len(index)
                    stack.append(other)
                    work.append((other, iter(graph.get(other, ()))))
                    break
                if other in stack:
                    low[node] = min(low[node], index[other])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == index[node]:
                    group = set()
                    while node not in group:
                        group.add(stack.pop())
                    found.append(group)
    return found


def main() -> None:
    """Print the figures, and their details."""
    found = measure(INTEGRATION)
    length, longest = max((lines, name) for name, lines in found.lengths.items())
    print(f"{sum(found.lengths.values())} lines in {len(found.lengths)} modules")
    print(f"longest module: {longest}, {length} lines")
    for what, which in (
        ("circles", found.circles),
        ("imports of something higher", found.upward),
        ("modules at the top beside those demanded", found.extras),
        ("type names defined twice", found.doubled),
        ("modules that import the control loop or the system", found.composer_users),
    ):
        print(f"{what}: {len(which)}", *which, sep="\n  ")


if __name__ == "__main__":
    main()
