"""Reads Home Assistant's log, and separates real trouble from noise."""

from dataclasses import dataclass
from pathlib import Path
import re

_HEAD = re.compile(
    # From 2026.11 on with the zone.
    r"^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\.\d+(?:[+-]\d\d:\d\d)? (?P<level>[A-Z]+) \([^)]*\) "
    r"\[(?P<logger>[^\]]+)\] (?P<text>.*)$"
)

NOISE = (
    # Every custom component gets this line.
    re.compile(r"^We found a custom integration"),
    # Helpers that only cameras and voice need; the demo has neither.
    re.compile(r"ffmpeg", re.IGNORECASE),
    re.compile(r"turbojpeg", re.IGNORECASE),
    re.compile(r"zlib"),
    # Intended: everything is already installed.
    re.compile(r"^Skipping pip installation"),
    # What Home Assistant logs on a busy computer.
    re.compile(r" took \d+\.\d+ seconds"),
    re.compile(r"^Setup of .* is taking over \d+ seconds"),
    re.compile(r"^Waiting for integrations to complete setup"),
    # What the last process was doing when it was killed on purpose.
    re.compile(r"^The system could not validate that the sqlite3 database"),
    re.compile(r"^Ended unfinished session"),
)
"""Warnings of a healthy Home Assistant in the demo."""


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry of the log, with its traceback if it has one."""

    level: str
    logger: str
    text: str


def read_log(path: Path, offset: int = 0) -> list[LogEntry]:
    """Return the warnings and errors of a log from a byte offset on, without the noise.

    Lines that don't come from Home Assistant's logging, such as after a crash of the
    interpreter, are entries of their own with the level RAW.
    """
    if not path.exists():
        return []
    with path.open("rb") as file:
        file.seek(offset)
        lines = file.read().decode(errors="replace").splitlines()
    entries: list[LogEntry] = []
    for line in lines:
        if head := _HEAD.match(line):
            entries.append(LogEntry(head["level"], head["logger"], head["text"]))
        elif entries:
            last = entries.pop()
            entries.append(LogEntry(last.level, last.logger, f"{last.text}\n{line}"))
        elif line.strip():
            entries.append(LogEntry("RAW", "", line))
    return [
        entry
        for entry in entries
        if not any(noise.search(entry.text.splitlines()[0]) for noise in NOISE)
    ]
