"""The demo's working session in a Home Assistant that records into a database server: PostgreSQL.

    .venv/bin/python -m benchmarks.postgres --db-url postgresql://hub@127.0.0.1/hub
    .venv/bin/python -m benchmarks.postgres --db-url ... --driver FOLDER --until-hour
    .venv/bin/python -m benchmarks.postgres --db-url ... --outage STOP START

The server and an empty database in it have to be there; they are never emptied. The driver
(psycopg2) is no part of this project: install it into a folder of its own and name that.

A real Home Assistant is started with the virtual workshop, and the band saw's week before is put into
its database. Gatewright is set up through its forms, which find the saw's levels in that
week, and the session is played: it holds the record against the history and simulates.
Afterwards the database itself is looked at, and the recorder's statistics are held against
the record; `--until-hour` waits for those that are kept for good, which the recorder makes
when an hour is over. `--outage` plays something else instead: with the two commands it has
the server go away at work, and be away when Home Assistant starts. The exit code is 1 where anything is not as it should be.
"""

import argparse
import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
import sys
from tempfile import TemporaryDirectory
import time
from typing import Any

from homeassistant.components.recorder.const import SQLITE_URL_PREFIX
from homeassistant.components.recorder.db_schema import Base
from sqlalchemy import Engine, create_engine, inspect, text

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.custom_components.virtual_workshop.model.layout import Layout
from demo.hub import Hub
from demo.hub_directory import HubDirectory, prepare
from demo.newcomer import Newcomer
from demo.past import DATABASE, remember
from demo.session import GOES_WRONG, USED_BEFORE
from demo.shop_floor import ShopFloor
from demo.timeline import Timeline
from demo.working_session import WorkingSession

from .outage import Outage

_ROUND = 1.0
"""The largest difference between a statistic and the record [s]."""
_FIVE_MINUTES = 300
_WRITTEN = 45
"""The latest time of a statistic after its period [s]."""

_COUNTED = """
    SELECT count(*) FROM states JOIN states_meta USING (metadata_id)
    WHERE states_meta.entity_id = ANY(:own)
"""
_DESCRIBED = """
    SELECT count(DISTINCT statistic_id) FROM statistics_meta
    JOIN {table} ON {table}.metadata_id = statistics_meta.id
    WHERE statistic_id = ANY(:own)
"""


@dataclass(frozen=True, slots=True)
class Server:
    """The database, and the location of its driver."""

    url: str
    driver: Path | None

    @contextmanager
    def connected(self) -> Iterator[Engine]:
        """Connect from here."""
        engine = create_engine(self.url)
        try:
            yield engine
        finally:
            engine.dispose()

    def count(self, query: str, own: list[str]) -> int:
        """Return the only number of a query about some entities."""
        with self.connected() as engine, engine.connect() as connection:
            found: int = connection.execute(text(query), {"own": own}).scalar_one()
            return found

    def version(self) -> str:
        """Return the server's name and version."""
        with self.connected() as engine, engine.connect() as connection:
            reported: str = connection.execute(text("SELECT version()")).scalar_one()
            return " ".join(reported.split()[:2])

    def remember(self, folder: Path, layout: Layout) -> int:
        """Put the week before into the empty database; return the number of readings."""
        folder.mkdir()
        reported = remember(folder, USED_BEFORE, layout.machines["band_saw"])
        source = create_engine(f"{SQLITE_URL_PREFIX}//{folder / DATABASE}")
        with self.connected() as target:
            Base.metadata.create_all(target)
            with source.connect() as old, target.begin() as new:
                for table in Base.metadata.sorted_tables:
                    rows = [
                        {key: _aware(value) for key, value in row.items()}
                        for row in old.execute(table.select()).mappings()
                    ]
                    if not rows:
                        continue
                    new.execute(table.insert(), rows)
                    (key,) = table.primary_key
                    # New rows have to be numbered after the imported ones.
                    new.execute(
                        text(
                            "SELECT setval(pg_get_serial_sequence(:table, :key), :last)"
                        ),
                        {
                            "table": table.name,
                            "key": key.name,
                            "last": max(row[key.name] for row in rows),
                        },
                    )
        source.dispose()
        return reported

    def program(self, folder: Path) -> Path:
        """Return a program that starts Home Assistant with the driver."""
        hass = Path(sys.executable).parent / "hass"
        if self.driver is None:
            return hass
        started = folder / "hass"
        started.write_text(
            f'#!/bin/sh\nPYTHONPATH="{self.driver}" exec "{hass}" "$@"\n', "utf-8"
        )
        started.chmod(0o700)
        return started


def _aware(value: Any) -> Any:
    """Return an instant with its time zone, which SQLite does not keep."""
    if isinstance(value, datetime) and value.tzinfo is None:
        return value.replace(tzinfo=UTC)
    return value


def _record_into(directory: HubDirectory, url: str) -> None:
    """Let a prepared Home Assistant record into a database server."""
    file = directory.path / "configuration.yaml"
    plain = file.read_text("utf-8")
    assert "\nrecorder:\n" in plain
    file.write_text(
        plain.replace("\nrecorder:\n", f"\nrecorder:\n  db_url: {url}\n"), "utf-8"
    )


class Trial:
    """One working session on a database server."""

    def __init__(
        self,
        server: Server,
        folder: Path,
        *,
        until_hour: bool,
        outage: tuple[str, str] | None,
    ) -> None:
        """Choose the server; `until_hour` waits for the hourly statistics.

        `outage` are the commands that stop and start the server.
        """
        self._server = server
        self._folder = folder
        self._until_hour = until_hour
        self._outage = outage
        self._timeline = Timeline()
        self._layout = build_layout({})
        self._lines: list[str] = []

    async def run(self) -> int:
        """Play and check; return the exit code."""
        server, timeline = self._server, self._timeline
        timeline.title(f"Recording into {server.version()}")
        directory = prepare(self._folder / "config")
        _record_into(directory, server.url)
        reported = server.remember(self._folder / "past", self._layout)
        timeline.note(f"it has {reported} readings of the band saw's last week")
        hub = Hub(directory, hass=server.program(self._folder))
        async with hub:
            floor = ShopFloor(hub, self._layout)
            try:
                await self._set_up(floor)
                if self._outage is None:
                    await self._work(floor)
                else:
                    await Outage(floor, timeline, *self._outage).play()
            except GOES_WRONG as err:
                timeline.check(False, str(err) or type(err).__name__)
            finally:
                await floor.leave()
        print(
            f"{timeline.checks - len(timeline.wrong)} of {timeline.checks} checks held"
        )
        for what in timeline.wrong:
            print(f"  {what}")
        return int(bool(timeline.wrong))

    async def _work(self, floor: ShopFloor) -> None:
        began = datetime.now(UTC)
        session = WorkingSession(floor, self._timeline)
        await session.play()
        await session.summary()
        await self._look(floor, began)
        if self._until_hour:
            await self._wait_for_the_hour(floor, began)

    async def _set_up(self, floor: ShopFloor) -> None:
        await floor.enter()
        await floor.until_measured()
        newcomer = Newcomer(floor.client, self._tell)
        await floor.learn(await newcomer.set_up(floor.layout.collector.coast))
        self._timeline.check(
            any(line.startswith("accepted as found") for line in self._lines),
            "The band saw's levels were found in its recorded week",
        )
        await floor.until("phase", "idle", timeout=40)

    def _tell(self, line: str) -> None:
        self._lines.append(line)
        self._timeline.note(line)

    async def _look(self, floor: ShopFloor, began: datetime) -> None:
        """Check the database, and the statistics of five minutes against the record."""
        timeline, server = self._timeline, self._server
        timeline.title("9. The database, and the recorder's statistics")
        own = list((await floor.client.entity_ids("gatewright")).values())
        rows = server.count(_COUNTED, own)
        timeline.check(rows > 0, f"{rows} states of {len(own)} entities are in it")
        timeline.note("waiting for the statistics of the last five minutes")
        await _sleep_past(_FIVE_MINUTES)
        table = "statistics_short_term"
        kept = server.count(_DESCRIBED.format(table=table), own)
        timeline.check(kept > 0, f"{kept} of our sensors have statistics in it")
        await self._hold_against_the_record(floor, began, "5minute")

    async def _wait_for_the_hour(self, floor: ShopFloor, began: datetime) -> None:
        timeline = self._timeline
        timeline.title("10. The statistics that are kept for good")
        timeline.note("waiting until the hour is over")
        await _sleep_past(3600)
        own = list((await floor.client.entity_ids("gatewright")).values())
        kept = self._server.count(_DESCRIBED.format(table="statistics"), own)
        timeline.check(kept > 0, f"{kept} of our sensors have hourly statistics in it")
        await self._hold_against_the_record(floor, began, "hour")

    async def _hold_against_the_record(
        self, floor: ShopFloor, began: datetime, period: str
    ) -> None:
        """Compare the growth of our totals in the recorder's statistics with the record."""
        found = await floor.client.ask(
            "gatewright.get_summary",
            config_entry_id=floor.entry_id,
            period="custom",
            first_day=str(began.date() - timedelta(days=2)),
            last_day=str(began.date() + timedelta(days=2)),
        )
        shop, collector = found["shop"], found["collector"]
        totals: dict[str, float] = {
            floor.own("on_time"): collector["on_time"],
            floor.own("starts"): collector["starts"],
            floor.own("shop_run_time"): shop["run_time"],
        }
        for row in found["machines"]:
            if row["name"] in floor.machine_keys and row["run_time"] > 0:
                totals[floor.own("run_time", row["name"])] = row["run_time"]
                totals[floor.own("cuts", row["name"])] = row["cuts"]
        reported: dict[str, list[dict[str, Any]]] = await floor.client.socket.command(
            "recorder/statistics_during_period",
            start_time=(began - timedelta(days=1)).isoformat(),
            statistic_ids=list(totals),
            period=period,
            units={"duration": "s"},
            types=["sum"],
        )
        for entity_id, total in totals.items():
            rows = reported.get(entity_id, [])
            grown = float(rows[-1]["sum"]) if rows else float("nan")
            self._timeline.check(
                abs(grown - total) <= _ROUND,
                f"{entity_id}: {grown:.5g} by the statistics, {total:.5g} by the record",
            )


async def _sleep_past(period: int) -> None:
    """Wait until a period of the clock [s] is over and its statistics are compiled."""
    await asyncio.sleep(period - time.time() % period + _WRITTEN)


def main() -> int:
    """Run the trial; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--db-url", required=True, help="of an empty database")
    parser.add_argument("--driver", type=Path, help="folder with the database's driver")
    parser.add_argument("--until-hour", action="store_true")
    parser.add_argument("--outage", nargs=2, metavar=("STOP", "START"))
    asked = parser.parse_args()
    if asked.driver is not None:
        sys.path.append(str(asked.driver.resolve()))
    server = Server(asked.db_url, asked.driver and asked.driver.resolve())
    with server.connected() as engine:
        if inspect(engine).has_table("states"):
            parser.error("the database is not empty, and nothing in it is deleted")
    with TemporaryDirectory() as folder:
        trial = Trial(
            server,
            Path(folder),
            until_hour=asked.until_hour,
            outage=asked.outage and tuple(asked.outage),
        )
        return asyncio.run(trial.run())


if __name__ == "__main__":
    sys.exit(main())
