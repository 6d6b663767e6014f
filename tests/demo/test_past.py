"""The demo's past is like one that Home Assistant itself would have recorded."""

from datetime import UTC, datetime
from pathlib import Path
import sqlite3

from custom_components.gatewright.core.calibration.learner import Confidence, learn
from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.past import DATABASE, DAYS, remember

PLUG = "sensor.band_saw"


def test_a_week_of_readings_tells_when_the_machine_runs(tmp_path: Path) -> None:
    machine = build_layout({}).machines["band_saw"]
    now = datetime(2026, 5, 4, 12, tzinfo=UTC)
    count = remember(tmp_path, PLUG, machine, now)
    with sqlite3.connect(tmp_path / DATABASE) as database:
        rows = database.execute(
            "select last_updated_ts, state from states join states_meta as meta"
            " using (metadata_id) where meta.entity_id = ? order by 1",
            (PLUG,),
        ).fetchall()
    assert len(rows) == count > 1000
    history = [(at, float(state)) for at, state in rows]
    assert now.timestamp() - DAYS * 86_400 - 61 <= history[0][0]
    assert history[-1][0] < now.timestamp()
    proposal = learn(history, "W", now.timestamp()).proposal
    assert proposal is not None
    assert proposal.confidence is Confidence.CLEAR
    assert machine.standby < proposal.levels.stop
    assert proposal.levels.start < machine.idle
