"""The difference of two JSON documents, as a JSON Patch (RFC 6902).

It writes and reads only the operations `add`, `remove` and `replace`.
"""

from collections.abc import Iterable, Iterator
from typing import Any

type Operation = dict[str, Any]


class PatchError(ValueError):
    """Raised for an operation that can't be applied to the document."""


def difference(before: Any, after: Any, path: str = "") -> Iterator[Operation]:
    """Yield the operations from `before` to `after`, both plain JSON values.

    A list that lost its oldest items and got new ones costs only these items.
    """
    if isinstance(before, dict) and isinstance(after, dict):
        yield from _of_maps(before, after, path)
    elif isinstance(before, list) and isinstance(after, list):
        yield from _of_lists(before, after, path)
    elif type(before) is not type(after) or before != after:
        yield {"op": "replace", "path": path, "value": after}


def applied(document: Any, patch: Iterable[Operation]) -> Any:
    """Return the document with a patch applied; the given one may be changed.

    Raises `PatchError` for an invalid operation or a missing location.
    """
    for operation in patch:
        try:
            document = _apply(document, operation)
        except (AttributeError, IndexError, KeyError, TypeError, ValueError) as err:
            raise PatchError(str(operation)) from err
    return document


def _of_maps(
    before: dict[str, Any], after: dict[str, Any], path: str
) -> Iterator[Operation]:
    for key in before.keys() - after.keys():
        yield {"op": "remove", "path": f"{path}/{_escaped(key)}"}
    for key, value in after.items():
        at = f"{path}/{_escaped(key)}"
        if key in before:
            yield from difference(before[key], value, at)
        else:
            yield {"op": "add", "path": at, "value": value}


def _of_lists(before: list[Any], after: list[Any], path: str) -> Iterator[Operation]:
    if not after or not any(isinstance(item, dict | list) for item in after):
        if before != after or any(
            type(old) is not type(new) for old, new in zip(before, after, strict=True)
        ):
            yield {"op": "replace", "path": path, "value": after}
        return
    gone = _forgotten(before, after)
    for _ in range(gone):
        yield {"op": "remove", "path": f"{path}/0"}
    kept = before[gone:]
    for _ in range(len(kept) - len(after)):
        yield {"op": "remove", "path": f"{path}/{len(after)}"}
    for index, item in enumerate(after):
        if index < len(kept):
            yield from difference(kept[index], item, f"{path}/{index}")
        else:
            yield {"op": "add", "path": f"{path}/-", "value": item}


def _forgotten(before: list[Any], after: list[Any]) -> int:
    """Return how many of the first items are gone, if the others have moved up."""
    for gone, item in enumerate(before):
        if item == after[0] and before[gone:] == after[: len(before) - gone]:
            return gone
    return 0


def _apply(document: Any, operation: Operation) -> Any:
    kind, path = operation["op"], operation["path"]
    if kind not in ("add", "remove", "replace"):
        raise PatchError(kind)
    if path == "":
        return None if kind == "remove" else operation["value"]
    root, *parts = path.split("/")
    if root:
        raise PatchError(path)
    *way, last = (part.replace("~1", "/").replace("~0", "~") for part in parts)
    holder = document
    for part in way:
        holder = holder[_index(part) if isinstance(holder, list) else part]
    if isinstance(holder, list):
        _apply_to_list(holder, kind, last, operation)
    elif kind == "remove":
        del holder[last]
    else:
        if kind == "replace":
            # The replaced value must exist.
            holder[last]
        holder[last] = operation["value"]
    return document


def _apply_to_list(
    holder: list[Any], kind: str, last: str, operation: Operation
) -> None:
    if kind == "add":
        index = len(holder) if last == "-" else _index(last)
        if index > len(holder):
            raise PatchError(last)
        holder.insert(index, operation["value"])
    elif kind == "remove":
        del holder[_index(last)]
    else:
        holder[_index(last)] = operation["value"]


def _index(part: str) -> int:
    """Return an index into a list, from the digits that the standard allows."""
    if not (part.isascii() and part.isdigit()) or part != str(int(part)):
        raise PatchError(part)
    return int(part)


def _escaped(key: str) -> str:
    return key.replace("~", "~0").replace("/", "~1")
