"""A system's ducts and pickups compiled and put in order: what flows in comes first."""

from .compiled import CompiledRun, Element, body
from .errors import AirflowError
from .model import DuctProblem, DuctSystem, Pickup, problems
from .pipe import Pipe


class InvalidSystem(AirflowError):  # noqa: N818 - it is a value that is invalid
    """A system whose parts do not hang together; `problems` has all reasons."""

    def __init__(self, found: tuple[DuctProblem, ...]) -> None:
        super().__init__(found[0].code, found[0].text, element=found[0].element)
        self.problems = found


def compile_tree(system: DuctSystem) -> list[Element]:
    """Return pickups, then ducts from the far ends on, each knowing where it flows.

    Raises `InvalidSystem` for parts that do not hang together.
    """
    found = problems(system)
    if found:
        raise InvalidSystem(found)
    ducts = {duct.id: duct for duct in system.ducts}
    depth: dict[str, int] = {}
    for duct in system.ducts:
        path = []
        at: str | None = duct.id
        while at is not None and at not in depth:
            path.append(at)
            at = ducts[at].into
        base = 0 if at is None else depth[at] + 1
        for offset, name in enumerate(reversed(path)):
            depth[name] = base + offset
    elements: list[Element] = []
    for pickup in system.pickups:
        # A hood straight on the duct draws at the duct's own width.
        pipes = pickup.pipes or (Pipe(diameter=ducts[pickup.duct].diameter),)
        elements.append(
            Element(pickup, [CompiledRun(pipe, system) for pipe in pipes], system)
        )
    elements.extend(
        Element(duct, [CompiledRun(body(duct), system)], system)
        for duct in sorted(system.ducts, key=lambda duct: -depth[duct.id])
    )
    index = {element.id: i for i, element in enumerate(elements)}
    for i, element in enumerate(elements):
        element.index = i
        part = element.part
        target = part.duct if isinstance(part, Pickup) else part.into
        if target is not None:
            element.parent = index[target]
            elements[element.parent].children.append(i)
    return elements
