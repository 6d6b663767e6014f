"""Records changes since a file was last written in full, line by line beside it.

The first line has the mark of the file that the others belong to; each of them is a
JSON Patch (RFC 6902). Every line is on disk before the next one begins. A last line
torn by a crash is ignored; any other unreadable line is damage.
"""

import logging
import os
from pathlib import Path
from typing import Any, Final

from homeassistant.helpers.json import json_bytes
from homeassistant.util.json import json_loads

from .json_patch import PatchError, applied, difference

_LOGGER = logging.getLogger(__name__)

MARK: Final = "journal"
"""The key of the mark, in the file and in the journal's first line."""

ENDING: Final = ".journal"


class Journal:
    """The journal of one file. Everything that touches the disk is for the executor."""

    def __init__(self, path: Path) -> None:
        """Use this file; nothing is written before `begin`."""
        self.path = path
        self.size = 0
        """Bytes appended since `begin`."""
        self._mark = ""
        self._last = b""
        self._written = False

    @property
    def begun(self) -> bool:
        """Whether a change can be appended."""
        return bool(self._mark)

    def begin(self, mark: str, whole: bytes) -> None:
        """Start lines for the file with this mark and content."""
        self._mark, self._last = mark, whole
        self._written, self.size = False, 0

    def end(self) -> None:
        """Stop appending: the file has to be written in full next."""
        self._mark, self._last = "", b""

    def append(self, content: bytes) -> None:
        """Append the difference from the last content, and wait for the disk.

        Raises `OSError` if it can't be written; then the journal has ended.
        """
        patch = [*difference(json_loads(self._last), json_loads(content))]
        if not patch:
            return
        line = json_bytes(patch) + b"\n"
        if not self._written:
            line = json_bytes({MARK: self._mark}) + b"\n" + line
        try:
            self.put(line, anew=not self._written)
        except OSError:
            self.end()
            raise
        self._written = True
        self._last = content
        self.size += len(line)

    def put(self, lines: bytes, *, anew: bool) -> None:
        """Write lines at the end, or in place of everything."""
        with self.path.open("wb" if anew else "ab") as file:
            file.write(lines)
            file.flush()
            os.fdatasync(file.fileno())

    def remove(self) -> None:
        """Delete the journal."""
        self.end()
        self.path.unlink(missing_ok=True)


def caught_up(path: Path, whole: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    """Return a file's content with its journal applied, and whether all is sound.

    Everything before a damaged line counts.
    """
    mark = whole.pop(MARK, None)
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError as err:
        if mark is not None and not isinstance(err, FileNotFoundError):
            _LOGGER.warning("The file %s can't be read: %r", path, err)
            return whole, False
        return whole, True
    # A line without a line break was torn.
    head, *patches = lines[:-1] or [b""]
    try:
        if mark is None or json_loads(head) != {MARK: mark}:
            # It belongs to an earlier file, or its first line was torn.
            return whole, True
    except ValueError:
        # Nothing shows whether it belongs to this file.
        return whole, not patches
    # A failing patch may have changed its target halfway.
    begin = json_bytes(whole)
    for number, patch in enumerate(patches):
        try:
            whole = _patched(whole, patch)
        except ValueError as err:
            _LOGGER.warning("The file %s is damaged: %r", path, err)
            whole = _map(json_loads(begin))
            for sound in patches[:number]:
                whole = _patched(whole, sound)
            return whole, False
    return whole, True


def _patched(whole: dict[str, Any], patch: bytes) -> dict[str, Any]:
    """Return the content with one line applied; raises `ValueError` for damage."""
    return _map(applied(whole, _list(json_loads(patch))))


def _map(kept: Any) -> dict[str, Any]:
    if isinstance(kept, dict):
        return kept
    raise PatchError(f"{type(kept).__name__} instead of a map")


def _list(kept: Any) -> list[Any]:
    if isinstance(kept, list):
        return kept
    raise PatchError(f"{type(kept).__name__} instead of a list")
