"""Gives a new Home Assistant a past: a plug's power in the last week.

Home Assistant's own tables are filled, as if its recorder had been running. The band
saw of the virtual workshop worked in a few sessions, by the workshop's own description
of it.
"""

from datetime import UTC, datetime, timedelta
import json
from pathlib import Path
from random import Random

from homeassistant.components.recorder.const import SQLITE_URL_PREFIX
from homeassistant.components.recorder.db_schema import (
    SCHEMA_VERSION,
    Base,
    RecorderRuns,
    SchemaChanges,
    StateAttributes,
    States,
    StatesMeta,
    StatisticsRuns,
)
from sqlalchemy import create_engine
from sqlalchemy.orm import Session

from .custom_components.virtual_workshop.model.layout import MachineSpec

DATABASE = "home-assistant_v2.db"
DAYS = 7
_SESSIONS = (0.4, 0.6)
"""The sessions, in days from midnight."""
_CUTS = 8
_REPORT = 1.0
_HEARTBEAT = 300.0

type _Readings = list[tuple[float, float]]


def remember(
    path: Path, entity_id: str, machine: MachineSpec, now: datetime | None = None
) -> int:
    """Fill the recorder of a configuration directory; return the number of readings.

    Home Assistant must not have been started in it. The past ends a minute ago.
    """
    ends = (now or datetime.now(UTC)) - timedelta(minutes=1)
    begins = ends - timedelta(days=DAYS)
    readings = _readings(machine, begins.timestamp(), ends.timestamp())
    engine = create_engine(f"{SQLITE_URL_PREFIX}//{path / DATABASE}")
    Base.metadata.create_all(engine)
    attributes = {
        "state_class": "measurement",
        "unit_of_measurement": "W",
        "device_class": "power",
    }
    # Statistics are computed every five minutes. Without a last time, the recorder would compute those of ten
    # days at its start, and Home Assistant can't stop before that is done.
    compiled = ends.replace(minute=ends.minute - ends.minute % 5, second=0)
    compiled = compiled.replace(microsecond=0)
    shared = json.dumps(attributes, separators=(",", ":"))
    with Session(engine) as session:
        meta = StatesMeta(entity_id=entity_id)
        reported = StateAttributes(
            shared_attrs=shared,
            hash=StateAttributes.hash_shared_attrs_bytes(shared.encode()),
        )
        session.add_all(
            [
                SchemaChanges(schema_version=SCHEMA_VERSION, changed=begins),
                RecorderRuns(start=begins, end=ends, created=begins),
                StatisticsRuns(start=compiled),
                meta,
                reported,
            ]
        )
        session.flush()
        session.add_all(
            States(
                metadata_id=meta.metadata_id,
                attributes_id=reported.attributes_id,
                state=f"{watts:.1f}",
                last_updated_ts=at,
            )
            for at, watts in readings
        )
        session.commit()
    engine.dispose()
    return len(readings)


def _readings(machine: MachineSpec, begins: float, ends: float) -> _Readings:
    """Return the readings of the machine's plug between two instants in s since 1970."""
    random = Random(machine.name)
    found: _Readings = []
    at = begins
    for first, last in _cuts(begins, ends, random):
        while at < first:
            found.append((at, machine.standby + random.uniform(0.0, 0.4)))
            at += _HEARTBEAT
        at = first
        while at < last:
            load = machine.idle * random.uniform(1.0, 2.2)
            found.append((at, load))
            at += _REPORT
        found.append((last, machine.standby))
        at = last + _HEARTBEAT
    return found


def _cuts(begins: float, ends: float, random: Random) -> list[tuple[float, float]]:
    day = 86_400.0
    cuts = []
    for number in range(DAYS):
        for share in _SESSIONS:
            at = begins + (number + share) * day
            for _ in range(_CUTS):
                length = random.uniform(8.0, 40.0)
                if at + length < ends:
                    cuts.append((at, at + length))
                at += length + random.uniform(15.0, 200.0)
    return cuts
