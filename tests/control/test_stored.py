"""What is stored: each field is declared once, read and written as it was.

`stored_by_0_1_0.json` holds what the forms of version 0.1.0 stored in its own tests, and
what that version made of each: the plan, and what is looked after.
"""

from collections.abc import Mapping
from dataclasses import asdict, replace
import json
from operator import attrgetter
from pathlib import Path
from typing import Any

import pytest

from custom_components.gatewright.core.config import SIGNAL_LEVELS, StartWhen
from custom_components.gatewright.core.stored.parts import (
    StoredDuct,
    StoredElbow,
    StoredGate,
    StoredMachine,
    StoredPurge,
)
from custom_components.gatewright.core.stored.system import StoredService, StoredSystem
from custom_components.gatewright.core.stored.table import (
    Stored,
    StoredField,
    UnreadableError,
    defaults_of,
    keys_of,
    readable_in,
    table_of,
    unreadable_in,
)

KINDS: dict[str, type[StoredSystem | StoredGate | StoredMachine | StoredDuct]] = {
    "system": StoredSystem,
    "gate": StoredGate,
    "machine": StoredMachine,
    "duct": StoredDuct,
}
WHOLE: dict[str, dict[str, Any]] = {
    "system": {"switch": "switch.relay", **defaults_of(StoredSystem)},
    "gate": {"gate_kind": "powered", "travel": 5.0, "rest": "shut"},
    "machine": {"kind": "planer", "gates": ["g"], "needs_air": True, "hold": 0.0},
    "duct": {
        "diameter": 0.15,
        "length": 2.0,
        "duct_material": "spiral",
        "entry_angle": 0.0,
    },
}
"""The least that each can be read from without a loss."""

WRITTEN = json.loads(Path(__file__).with_name("stored_by_0_1_0.json").read_text())
ODD = "later"
"""A key that no version knows, in some of what is kept."""


def afresh[S: Stored](read: S) -> S:
    """Return the same description, knowing nothing of what it was read from."""
    return replace(read, kept={})


@pytest.mark.parametrize("written", WRITTEN)
def test_what_0_1_0_stored_reads_and_is_written_the_same(
    written: dict[str, Any],
) -> None:
    kind, data = KINDS[written["kind"]], written["data"]
    assert unreadable_in(kind, data) == []
    assert data.keys() - keys_of(kind) <= {ODD}
    read = kind.from_data(data)
    assert read.to_data() == data
    assert readable_in(kind, data) == data
    # Nothing of it is lost in the description itself either.
    again = afresh(read).to_data()
    assert kind.from_data(again) == read
    assert again.items() <= data.items()


NOW = {
    "clearing": "purge",
    "coast": "spin_down",
    "companions": "linked_devices",
    "grace": "dropout",
    "longest_run_on": "longest_shutoff_delay",
    "needs_air": "collect_while_running",
    "run_on": "shutoff_delay",
    "silence": "stale_after",
    "start_settle": "start_confirm",
    "stop_settle": "stop_confirm",
}
"""What a value of a plan is called since."""


def compared(plan: Any, expected: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a plan has of the fields that are expected, as plain data."""
    plain = json.loads(json.dumps(asdict(plan), default=list))
    return {
        key: _among(plain[NOW.get(key, key)], value) for key, value in expected.items()
    }


def _among(plain: Any, expected: Any) -> Any:
    if isinstance(plain, dict) and isinstance(expected, dict):
        return {
            key: _among(plain[NOW.get(key, key)], value)
            for key, value in expected.items()
        }
    return plain


@pytest.mark.parametrize("written", [w for w in WRITTEN if "plan" in w])
def test_what_0_1_0_stored_means_what_it_meant(written: dict[str, Any]) -> None:
    kind = KINDS[written["kind"]]
    read = kind.from_data(written["data"], part_id="id", name="name")
    assert not isinstance(read, StoredDuct)
    # No gate is told to be there or not: what 0.1.0 read had all of them.
    assert compared(read.plan(), written["plan"]) == written["plan"]
    if isinstance(read, StoredSystem):
        assert compared(read.maintenance(), written["upkeep"]) == written["upkeep"]
        # It was set up before there was a choice: it waits for its gate, as it did.
        assert read.plan().start_when is StartWhen.GATE_OPEN


def test_0_1_0_stored_enough_to_be_worth_it() -> None:
    found = dict.fromkeys(KINDS, 0)
    keys: dict[str, set[str]] = {kind: set() for kind in KINDS}
    for written in WRITTEN:
        found[written["kind"]] += 1
        keys[written["kind"]] |= written["data"].keys()
    assert found == {"system": 30, "gate": 11, "machine": 16, "duct": 3}
    assert min(map(len, keys.values())) > 5
    assert len(keys["system"]) > 50


# The table ------------------------------------------------------------------------------

CANDIDATES: tuple[Any, ...] = (
    "text",
    7.0,
    True,
    False,
    ["a", "b"],
    [[0.0, 9.0], [1.0, 2.0]],
    [{"gates": ["a"], "duration": 3.0}],
    [{"id": "belt", "name": "Belt", "hours": 9.0}],
    [{"count": 1, "angle": 90.0, "radius": 1.5, "construction": "stamped"}],
    *("fixed", "open", "servo", "usual", "relaxed", "plain_end", "lathe", "running"),
    *(
        "galvanized",
        "gate_opening",
        "refuse",
        "pulse",
        "outside",
        "sawdust",
        "elbow_at",
        "17:30",
    ),
    ["bin"],
)


def another(item: StoredField, now: Any) -> Any:
    """Return stored data that a field can have and doesn't have now."""
    for data in CANDIDATES:
        if item.kind.check(data) and item.kind.load(data) != now:
            return data
    raise AssertionError(f"no candidate for {item.key}")


def put(whole: Stored, place: str, value: Any) -> Stored:
    """Return a description with another value at a place."""
    name, _, inner = place.partition(".")
    if inner:
        value = put(getattr(whole, name), inner, value)
    changed: Stored = replace(whole, **{name: value})
    return changed


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_can_be_set_and_read_back(kind: str) -> None:
    cls = KINDS[kind]
    whole = cls.from_data(WHOLE[kind] | {ODD: "kept"})
    assert unreadable_in(cls, WHOLE[kind]) == []
    for item in table_of(cls).fields:
        now = attrgetter(item.place)(whole)
        data = another(item, now)
        changed = put(whole, item.place, item.kind.load(data))
        stored = changed.to_data()
        lone = {f.key: f for f in table_of(cls).fields if f.needed_with == item.key}
        usual = {
            k: f.kind.dump(f.default) for k, f in lone.items() if f.default is not None
        }
        dumped = item.kind.dump(item.kind.load(data))
        expected = {**WHOLE[kind], ODD: "kept", item.key: dumped}
        assert {**usual, **stored} == {**usual, **expected}, item.key
        assert json.loads(json.dumps(stored)) == stored
        read = cls.from_data({**dict.fromkeys(lone, 50.0), **stored})
        if not item.needed_with:
            assert attrgetter(item.place)(read) == item.kind.load(data), item.key
        # Taken back, it is what it was.
        back = cls.from_data(put(changed, item.place, now).to_data())
        assert attrgetter(item.place)(back) == now


@pytest.mark.parametrize("kind", KINDS)
def test_no_key_is_declared_twice_and_none_is_lacking_unnoticed(kind: str) -> None:
    cls = KINDS[kind]
    assert len(keys_of(cls)) == len(table_of(cls).fields)
    for item in table_of(cls).fields:
        lacking = {k: v for k, v in WHOLE[kind].items() if k != item.key}
        told = unreadable_in(cls, lacking)
        assert told == ([item.key] if item.key in WHOLE[kind] else [])


@pytest.mark.parametrize("row", [StoredPurge, StoredElbow, StoredService])
def test_a_row_lacks_nothing_that_it_needs(row: type[Stored]) -> None:
    with pytest.raises(UnreadableError):
        row.from_data({})


def test_a_value_that_cannot_be_read_is_as_if_not_given_and_stays_stored() -> None:
    data = {**WHOLE["system"], "run_on": "soon", "bin_volume": [], "future": 1}
    assert unreadable_in(StoredSystem, data) == ["run_on", "bin_volume"]
    read = StoredSystem.from_data(data)
    assert read.timing.shutoff_delay == 3.0
    assert read.bin.volume is None
    changed = replace(read, monitor_only_since="2026-11-20T10:00:00+00:00")
    assert changed.to_data() == {**data, "watch_since": "2026-11-20T10:00:00+00:00"}
    assert replace(changed, monitor_only_since=None).to_data() == data
    assert StoredSystem.from_data({**data, "hide_wrapped": 5}).hide_wrapped
    with pytest.raises(UnreadableError) as err:
        StoredSystem.from_data({**data, "switch": None})
    assert err.value.what == "switch"


def test_what_says_nothing_without_another_goes_where_that_is_not_there() -> None:
    data = {**WHOLE["system"], "free_flow": 0.5, "bin_level": "sensor.level"}
    assert unreadable_in(StoredSystem, data) == [
        "bin_empty_reading",
        "bin_full_reading",
        "max_suction",
    ]
    read = StoredSystem.from_data(data)
    assert (read.air.free_flow, read.bin.level) == (None, None)
    assert readable_in(StoredSystem, data) == WHOLE["system"]
    assert read.to_data() == data
    # A behavior that is off asks for nothing.
    off = {**WHOLE["system"], "speed_control": False}
    assert unreadable_in(StoredSystem, off) == []
    sensed = {**WHOLE["machine"], "sensor": "sensor.saw", "unit": "W"}
    assert unreadable_in(StoredMachine, sensed) == [
        "start",
        "stop",
        "start_settle",
        "stop_settle",
        "grace",
        "on_lost",
    ]


def test_a_form_reads_what_it_would_store_mistakes_and_all() -> None:
    data = {
        **WHOLE["machine"],
        "hold": -5.0,
        "clearing": [{"gates": [], "duration": -1}],
    }
    assert unreadable_in(StoredMachine, data) == ["hold", "clearing"]
    plan = StoredMachine.from_form(data).plan()
    assert (plan.hold, plan.purge[0].duration) == (-5.0, -1)


def test_a_signal_has_no_levels_of_its_own() -> None:
    signal = {
        **WHOLE["machine"],
        "sensor": "binary_sensor.saw",
        "start_settle": 0.0,
        "stop_settle": 1.0,
        "grace": 30.0,
        "on_lost": "running",
    }
    levels = StoredMachine.from_data(signal).levels()
    assert levels is not None
    assert (levels.start, levels.stop) == (SIGNAL_LEVELS.start, SIGNAL_LEVELS.stop)
    assert (levels.dropout, levels.on_lost.value) == (30.0, "running")
    reading = {
        **signal,
        "unit": "W",
        "start": 150.0,
        "stop": 60.0,
        "certain_level": 900,
    }
    levels = StoredMachine.from_data({**reading, "silence": 600.0}).levels()
    assert levels is not None
    assert (levels.start, levels.certain, levels.stale_after) == (150.0, 900, 600.0)
