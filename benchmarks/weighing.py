"""What single entities occupy in a recorder's SQLite database."""

from collections.abc import Collection, Iterable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
import sqlite3

_OF_CHOSEN_STATISTICS = """
    WHERE metadata_id IN (
        SELECT id FROM statistics_meta
        WHERE statistic_id IN (SELECT name FROM chosen)
    )
"""


@dataclass(frozen=True, slots=True)
class Share:
    """What one kind of entity occupies in the database."""

    what: str
    states: int
    attributes: int
    """Sets of attributes that nothing else uses."""
    events: int
    statistics: int
    size: int
    """Bytes, indexes included."""


class Database:
    """A copy of a recorder's database, to be taken apart."""

    def __init__(self, connection: sqlite3.Connection, since: float) -> None:
        """Leave out everything before an instant in s since 1970."""
        self._database = connection
        connection.execute("CREATE TEMP TABLE chosen (name TEXT)")
        for rows in (
            "states WHERE last_updated_ts < ?",
            "events WHERE time_fired_ts < ?",
            "statistics WHERE created_ts < ?",
            "statistics_short_term WHERE created_ts < ?",
        ):
            self._delete(rows, (since,))
        self._sweep()
        self._size = self._measure()

    def take(self, what: str, entity_ids: Iterable[str], events: str = "") -> Share:
        """Delete the rows of some entities, and events of a pattern; return what they were."""
        self._database.execute("DELETE FROM chosen")
        self._database.executemany(
            "INSERT INTO chosen VALUES (?)", [(name,) for name in entity_ids]
        )
        states = self._delete(
            "states WHERE metadata_id IN (SELECT metadata_id FROM states_meta"
            " WHERE states_meta.entity_id IN (SELECT name FROM chosen))"
        )
        statistics = sum(
            self._delete(f"{table} {_OF_CHOSEN_STATISTICS}")
            for table in ("statistics", "statistics_short_term")
        )
        fired = self._delete(
            "events WHERE event_type_id IN (SELECT event_type_id FROM event_types"
            " WHERE event_types.event_type LIKE ?)",
            (events,),
        )
        attributes = self._sweep()
        before, self._size = self._size, self._measure()
        return Share(what, states, attributes, fired, statistics, before - self._size)

    def _delete(self, rows: str, values: tuple[float | str, ...] = ()) -> int:
        # The text is this module's own.
        return self._database.execute(f"DELETE FROM {rows}", values).rowcount  # noqa: S608

    def _sweep(self) -> int:
        """Delete what no row refers to any more; return the sets of attributes."""
        self._delete(
            "event_data WHERE data_id NOT IN"
            " (SELECT data_id FROM events WHERE data_id IS NOT NULL)"
        )
        return self._delete(
            "state_attributes WHERE attributes_id NOT IN"
            " (SELECT attributes_id FROM states WHERE attributes_id IS NOT NULL)"
        )

    def _measure(self) -> int:
        self._database.commit()
        self._database.execute("VACUUM")
        (pages,) = self._database.execute("PRAGMA page_count").fetchone()
        (size,) = self._database.execute("PRAGMA page_size").fetchone()
        return int(pages) * int(size)


def most_states(
    file: Path, since: float, entity_ids: Collection[str]
) -> list[tuple[str, int]]:
    """Return the number of states of some entities, the largest first."""
    with closing(sqlite3.connect(file)) as connection:
        told = connection.execute(
            "SELECT states_meta.entity_id, count(*) FROM states"
            " JOIN states_meta USING (metadata_id)"
            " WHERE last_updated_ts >= ? GROUP BY 1 ORDER BY 2 DESC",
            (since,),
        ).fetchall()
    return [(name, rows) for name, rows in told if name in entity_ids]
