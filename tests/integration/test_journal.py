"""Journals: a crash leaves the present data, whichever byte was written last."""

from collections.abc import Callable, Iterator
import copy
import errno
from itertools import pairwise
import json
from pathlib import Path
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.storage import Store
from homeassistant.util.file import WriteError
from hypothesis import given, strategies as st
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright import backup
from custom_components.gatewright.runtime.journal import (
    ENDING,
    MARK,
    Journal,
    caught_up,
)
from custom_components.gatewright.runtime.journaled_file import MemoryStore
from custom_components.gatewright.runtime.json_patch import (
    PatchError,
    applied,
    difference,
)

from .air_shop import FAN, ducted_parts
from .maintenance_shop import SERVICES
from .test_damaged import REAL, begin, lost, names
from .workshop import SAW_POWER, Workshop, system_entry

MEMORY, PAST = "gatewright.system", "gatewright.system.upkeep"
START_BLOCK = "switch.dust_collector_block_starts"
KEPT: dict[str, Any] = {"bin_volume": 0.2, "filter_hours": 10.0, "services": SERVICES}

plain = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.floats(-9, 9) | st.text("a/~0"),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text("ab/~1", max_size=2), inner, max_size=4)
    ),
    max_leaves=12,
)


def same(one: object, other: object) -> bool:
    """Return whether two documents are equal in JSON, where true isn't 1."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


# JSON Patch ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("document", "patch", "result"),
    [
        # RFC 6902, Appendix A: 1 to 5, 10, 11, 14 (its `test` is a `replace` here), 16.
        (
            {"foo": "bar"},
            [{"op": "add", "path": "/baz", "value": "qux"}],
            {"baz": "qux", "foo": "bar"},
        ),
        (
            {"foo": ["bar", "baz"]},
            [{"op": "add", "path": "/foo/1", "value": "qux"}],
            {"foo": ["bar", "qux", "baz"]},
        ),
        (
            {"baz": "qux", "foo": "bar"},
            [{"op": "remove", "path": "/baz"}],
            {"foo": "bar"},
        ),
        (
            {"foo": ["bar", "qux", "baz"]},
            [{"op": "remove", "path": "/foo/1"}],
            {"foo": ["bar", "baz"]},
        ),
        (
            {"baz": "qux", "foo": "bar"},
            [{"op": "replace", "path": "/baz", "value": "boo"}],
            {"baz": "boo", "foo": "bar"},
        ),
        (
            {"foo": "bar"},
            [{"op": "add", "path": "/child", "value": {"grandchild": {}}}],
            {"foo": "bar", "child": {"grandchild": {}}},
        ),
        (
            {"foo": "bar"},
            [{"op": "add", "path": "/baz", "value": "qux", "xyz": 123}],
            {"foo": "bar", "baz": "qux"},
        ),
        (
            {"/": 9, "~1": 10},
            [{"op": "replace", "path": "/~01", "value": 11}],
            {"/": 9, "~1": 11},
        ),
        (
            {"foo": ["bar"]},
            [{"op": "add", "path": "/foo/-", "value": ["abc", "def"]}],
            {"foo": ["bar", ["abc", "def"]]},
        ),
        ({"foo": 1}, [{"op": "replace", "path": "", "value": [2]}], [2]),
    ],
)
def test_patches_of_the_standard(
    document: Any, patch: list[dict[str, Any]], result: Any
) -> None:
    assert same(applied(document, patch), result)


@pytest.mark.parametrize(
    "operation",
    [
        # RFC 6902, A.12: what it is to be added to isn't there; and sections 4.1 to 4.3.
        {"op": "add", "path": "/baz/bat", "value": "qux"},
        {"op": "add", "path": "/list/2", "value": 1},
        {"op": "add", "path": "/list/01", "value": 1},
        {"op": "remove", "path": "/baz"},
        {"op": "remove", "path": "/list/1"},
        {"op": "remove", "path": "/list/-1"},
        {"op": "replace", "path": "/baz", "value": 1},
        {"op": "replace", "path": "/list/-", "value": 1},
        {"op": "replace", "path": "foo", "value": 1},
        {"op": "replace", "path": "/foo"},
        {"op": "move", "from": "/foo", "path": "/baz"},
        {"path": "/foo", "value": 1},
        "replace",
    ],
)
def test_what_is_no_patch_of_this_document(operation: Any) -> None:
    with pytest.raises(PatchError):
        applied({"foo": "bar", "list": [0]}, [operation])


@given(plain, plain)
def test_a_difference_makes_one_of_the_other(before: Any, after: Any) -> None:
    patch = json.loads(json.dumps([*difference(before, after)]))
    assert same(applied(copy.deepcopy(before), patch), after)
    assert not [*difference(after, after)]


def test_a_full_list_of_runs_costs_its_newest_run_only() -> None:
    runs = [{"name": f"Machine {n % 9}", "began": 60.0 * n} for n in range(2_001)]
    patch = [*difference({"runs": runs[:2_000]}, {"runs": runs[1:]})]
    assert [operation["op"] for operation in patch] == ["remove", "add"]


# The file ------------------------------------------------------------------------------


def written(folder: Path, contents: list[dict[str, Any]]) -> Path:
    """Write contents one after the other into a journal; return its file."""
    journal = Journal(folder / "file.journal")
    first, *others = contents
    journal.begin("mark", json.dumps(first).encode())
    for content in others:
        journal.append(json.dumps(content).encode())
    return journal.path


def test_cut_off_at_any_byte_it_holds_what_was_so_before(tmp_path: Path) -> None:
    contents: list[dict[str, Any]] = [
        {"phase": "idle", "runs": [], "totals": {"saw": 0.0}}
    ]
    for second in range(1, 6):
        after = copy.deepcopy(contents[-1])
        after["totals"]["saw"] = 30.0 * second
        after["runs"].append({"name": "Säge", "cuts": second})
        contents.append(after)
    path = written(tmp_path, contents)
    lines = path.read_bytes()
    reached = set()
    for cut in range(len(lines) + 1):
        path.write_bytes(lines[:cut])
        found, sound = caught_up(path, {**copy.deepcopy(contents[0]), MARK: "mark"})
        assert sound
        # All lines but the torn one count, the first of which has the mark.
        whole = max(0, lines[:cut].count(b"\n") - 1)
        assert found == contents[whole], cut
        reached.add(whole)
    assert reached == set(range(len(contents)))


@pytest.mark.parametrize(
    "damage", [b"\x00" * 9, b"[7]", b'[{"op": "remove", "path": "/no"}]', b"{}", b'"x"']
)
def test_what_comes_before_a_damaged_line_counts(tmp_path: Path, damage: bytes) -> None:
    path = written(tmp_path, [{"n": n} for n in range(5)])
    lines = path.read_bytes().split(b"\n")
    lines[3] = damage
    path.write_bytes(b"\n".join(lines))
    assert caught_up(path, {"n": 0, MARK: "mark"}) == ({"n": 2}, False)


def test_a_journal_of_another_file_does_not_count(tmp_path: Path) -> None:
    path = written(tmp_path, [{"n": 0}, {"n": 1}])
    assert caught_up(path, {"n": 5, MARK: "other"}) == ({"n": 5}, True)
    # Nor does one beside a file that was written without a mark.
    assert caught_up(path, {"n": 5}) == ({"n": 5}, True)
    path.write_bytes(b"\x00\n" + path.read_bytes())
    assert caught_up(path, {"n": 0, MARK: "mark"}) == ({"n": 0}, False)
    path.unlink()
    assert caught_up(path, {"n": 5, MARK: "mark"}) == ({"n": 5}, True)
    path.mkdir()
    assert caught_up(path, {"n": 5, MARK: "mark"}) == ({"n": 5}, False)


def test_nothing_is_written_where_nothing_has_changed(tmp_path: Path) -> None:
    path = written(tmp_path, [{"n": 0}, {"n": 0}])
    assert not path.exists()


# A system ------------------------------------------------------------------------------


@pytest.fixture
def disk(hass: HomeAssistant, tmp_path: Path) -> Iterator[Path]:
    """Keep everything on a disk of its own; return where the files are."""
    hass.config.config_dir = str(tmp_path)
    folder = tmp_path / ".storage"
    folder.mkdir()
    with pytest.MonkeyPatch.context() as patch:
        for name, method in REAL.items():
            patch.setattr(Store, name, method)
        yield folder


@pytest.fixture
async def entry(workshop: Workshop, disk: Path) -> MockConfigEntry:
    """Set up a system at work, with changes in both journals."""
    entry = system_entry(ducted_parts(), **FAN, **KEPT)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(700, 5)
    workshop.watts(SAW_POWER, 2)
    await workshop.pass_time(40)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(310, 5)
    return entry


def on_disk(disk: Path, name: str) -> dict[str, Any]:
    """Return the data that a reader would find in the files now."""
    whole = json.loads((disk / name).read_text())["data"]
    found, sound = caught_up(disk / f"{name}{ENDING}", whole)
    assert sound
    return found


async def die(hass: HomeAssistant) -> None:
    """End the process like a kill: what isn't on disk is lost."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("write", "write_soon"):
            patch.setattr(MemoryStore.__base__, name, _nothing(name))
        assert await hass.config_entries.async_unload("system")
    hass.data["gatewright_handovers"].clear()
    await hass.async_block_till_done()


def _nothing(name: str) -> Callable[..., Any]:
    async def write(*_args: object) -> None:
        pass

    def write_soon(*_args: object) -> None:
        pass

    return write if name == "write" else write_soon


async def test_what_is_on_the_disk_is_what_is_so(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    """At most a second old, with few complete files."""
    assert {f"{MEMORY}{ENDING}", f"{PAST}{ENDING}"} < names(disk)
    system = entry.runtime_data
    before = (disk / MEMORY).read_text()
    await hass.services.async_call(
        "switch", "turn_on", {"entity_id": START_BLOCK}, blocking=True
    )
    await workshop.pass_time(1.5)
    assert before == (disk / MEMORY).read_text()
    kept, now = on_disk(disk, MEMORY), json.loads(json.dumps(system.memory()))
    for key in ("start_block", "phase", "alarms", "hand_gates", "hidden"):
        assert kept[key] == now[key], key
    for machine_id, machine in now["machines"].items():
        for key in ("phase", "running", "requested"):
            assert kept["machines"][machine_id][key] == machine[key]
    assert kept["start_block"] is True
    past = on_disk(disk, PAST)
    assert [run["name"] for run in past["record"]] == ["Table saw"]


async def test_a_killed_system_resumes(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    running = float(workshop.state("sensor.table_saw_running_time"))
    await die(hass)
    await begin(hass, workshop)
    assert lost(hass) == set()
    assert workshop.collector.is_on
    assert entry.runtime_data.sequence.machines["saw"].in_use
    # In hours: all but the last half minute.
    assert float(workshop.state("sensor.table_saw_running_time")) >= running - 31 / 3600
    assert len(entry.runtime_data.maintenance.keeper.record.runs) == 1


@pytest.mark.parametrize("way", ["marks", "journal"])
async def test_killed_between_the_whole_file_and_its_journal(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    way: str,
) -> None:
    """The earlier file's journal remains, or the new one's first line is torn."""
    old = (disk / f"{MEMORY}{ENDING}").read_bytes()
    await entry.runtime_data.save()
    now = on_disk(disk, MEMORY)
    assert now["machines"]["saw"]["running"]
    (disk / f"{MEMORY}{ENDING}").write_bytes(old if way == "marks" else old[:20])
    assert on_disk(disk, MEMORY) == now


@pytest.mark.parametrize("name", [MEMORY, PAST])
async def test_a_damaged_journal_is_put_aside_and_reported(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    name: str,
) -> None:
    running = float(workshop.state("sensor.table_saw_running_time"))
    await die(hass)
    journal = disk / f"{name}{ENDING}"
    lines = journal.read_bytes().split(b"\n")
    # With something after it: a torn end is no damage.
    lines[-2:] = [lines[-2][:-4], lines[-2], b""]
    journal.write_bytes(b"\n".join(lines))
    await begin(hass, workshop)
    kind = {MEMORY: "memory", PAST: "upkeep"}[name]
    assert lost(hass) == {kind}
    issue = ir.async_get(hass).async_get_issue("gatewright", f"file_lost_system_{kind}")
    assert issue is not None
    assert issue.translation_key == (
        "file_lost_memory" if name == MEMORY else "file_lost_journal"
    )
    assert issue.translation_placeholders is not None
    assert issue.translation_placeholders["file"].endswith(f"{name}{ENDING}")
    assert any(f"{name}{ENDING}.unreadable." in found for found in names(disk))
    assert workshop.state(START_BLOCK) == ("on" if name == MEMORY else "off")
    # What came before the damage is still there.
    after = float(workshop.state("sensor.table_saw_running_time"))
    assert after > 0.9 * running
    assert await hass.config_entries.async_remove("system")
    await workshop.settle()
    assert not [left for left in names(disk) if left.startswith(MEMORY)]


async def test_a_disk_that_is_full_for_a_while(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What couldn't be appended is in the complete file written instead."""
    whole = (disk / MEMORY).read_text()
    with monkeypatch.context() as full:

        def put(journal: Journal, lines: bytes, *, anew: bool) -> None:
            with journal.path.open("ab") as file:
                file.write(lines[: len(lines) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")

        full.setattr(Journal, "put", put)
        await workshop.pass_time(31)
        assert (disk / MEMORY).read_text() != whole
        assert (
            on_disk(disk, MEMORY)["ledger"]
            == json.loads((disk / MEMORY).read_text())["data"]["ledger"]
        )
    await workshop.pass_time(62)
    kept = on_disk(disk, MEMORY)["ledger"]["machines"]["saw"]["run_time"]
    assert (
        kept
        > json.loads((disk / MEMORY).read_text())["data"]["ledger"]["machines"]["saw"][
            "run_time"
        ]
    )


async def test_a_file_that_cannot_be_written_leaves_its_journal(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Home Assistant only logs it; changes are appended to the existing file."""

    async def fails(_store: object, _data: object) -> None:
        raise WriteError

    with monkeypatch.context() as broken:
        broken.setattr(Store, "_async_write_data", fails)
        whole = (disk / MEMORY).read_text()
        await entry.runtime_data.save()
        assert (disk / MEMORY).read_text() == whole
        now = json.loads(json.dumps(entry.runtime_data.memory()))
        assert on_disk(disk, MEMORY)["machines"] == now["machines"]


async def test_a_journal_that_has_grown_begins_anew(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    module = "custom_components.gatewright.runtime.journaled_file.LEAST_JOURNAL"
    monkeypatch.setattr(module, 100)
    wholes = {(disk / MEMORY).read_text()}
    sizes = [0]
    for turn in range(60):
        workshop.watts(SAW_POWER, 2 if turn % 2 else 1400)
        await workshop.pass_time(30)
        wholes.add((disk / MEMORY).read_text())
        sizes.append((disk / f"{MEMORY}{ENDING}").stat().st_size)
    most = 2 * len(json.dumps(json.loads((disk / MEMORY).read_text())["data"]))
    assert 2 <= len(wholes) <= 1 + sum(sizes) / most
    assert any(later < before for before, later in pairwise(sizes))
    # A small one was begun in place of the large one that was there.
    assert max(sizes[2:]) < 2 * most


async def test_a_backup_finds_whole_files(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    await backup.async_pre_backup(hass)
    for name in (MEMORY, PAST):
        # Without its journal, as in a backup without unknown files.
        now = on_disk(disk, name)
        (disk / f"{name}{ENDING}").unlink()
        assert on_disk(disk, name) == now
    await backup.async_post_backup(hass)
    await workshop.pass_time(40)
    assert workshop.collector.is_on


async def test_no_journal_is_left_of_a_system_that_is_removed(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    assert f"{MEMORY}{ENDING}" in names(disk)
    assert await hass.config_entries.async_remove("system")
    await workshop.pass_time(5)
    assert not [name for name in names(disk) if name.startswith(MEMORY)]


async def test_files_from_before_there_were_journals(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    """Written on the way from 0.1.0 to 0.2, in the middle of a run, with a pause."""
    file = Path(__file__).with_name("kept_before_journals.json")
    for name, kept in json.loads(file.read_text()).items():
        assert MARK not in kept["data"]
        (disk / name).write_text(json.dumps(kept))
    # A journal that somebody left there belongs to none of them.
    (disk / f"{MEMORY}{ENDING}").write_bytes(b'{"journal": "x"}\n[]\n')
    entry = system_entry(ducted_parts(), **FAN, **KEPT)
    await workshop.load(entry)
    assert lost(hass) == set()
    assert workshop.state("switch.dust_collector_automatic") == "off"
    before = entry.runtime_data.maintenance.keeper.record.runs.copy()
    assert {run.name for run in before} == {"Table saw"}
    await workshop.pass_time(40)
    await die(hass)
    await begin(hass, workshop)
    assert lost(hass) == set()
    assert entry.runtime_data.maintenance.keeper.record.runs == before
    assert workshop.state("switch.dust_collector_automatic") == "off"
