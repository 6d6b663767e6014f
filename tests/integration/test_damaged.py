"""Damaged files and settings: only the unreadable part is lost, and a repair says so.

Files are on a real disk here. Damages and mutations are drawn with a fixed seed; the
cheap ones are tried on every value of every file.
"""

from collections.abc import Callable, Iterator
import copy
import json
from pathlib import Path
from random import Random
from typing import Any

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.helpers.storage import Store
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl
from custom_components.gatewright.core.maintenance.maintenance import Maintenance
from custom_components.gatewright.core.stored.parts import (
    StoredDuct,
    StoredGate,
    StoredMachine,
)
from custom_components.gatewright.core.stored.system import StoredSystem
from custom_components.gatewright.core.stored.table import keys_of
from custom_components.gatewright.features.airflow.readable_config import readable
from custom_components.gatewright.features.calibration.manager import DriftMonitor
from custom_components.gatewright.features.plan.drafts import DRAFTS, RevisionCause
from custom_components.gatewright.forms.flow.collector import (
    COLLECTOR as COLLECTOR_FORM,
)
from custom_components.gatewright.forms.flow.duct import DUCT
from custom_components.gatewright.forms.flow.gate import GATE
from custom_components.gatewright.forms.flow.machine import MACHINE
from custom_components.gatewright.restore_check import try_memory, try_past, work
from custom_components.gatewright.runtime.config_loader import load_config
from custom_components.gatewright.runtime.store import FileKind

from .air_shop import FAN, ducted_parts
from .maintenance_shop import SERVICES
from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    standard_parts,
    system_entry,
)

START_BLOCK = "switch.dust_collector_block_starts"
FILES = {
    FileKind.MEMORY: "gatewright.system",
    FileKind.MAINTENANCE: "gatewright.system.upkeep",
    FileKind.RECORD: "gatewright.system.record",
    FileKind.WALK: "gatewright.system.walk",
    FileKind.DRIFT: "gatewright.system.drift",
    FileKind.PAUSES: "gatewright.pauses",
    FileKind.PLAN: "gatewright.system.plan",
}
KEPT: dict[str, Any] = {"bin_volume": 0.2, "filter_hours": 10.0, "services": SERVICES}

WALKED = {
    "at": "2026-11-20T10:00:00+00:00",
    "report": {
        "ended": "done",
        "machine": None,
        "left": ["planer_gate"],
        "parts": [
            {
                "part": "saw_gate",
                "outcome": "checked",
                "seconds": 12.5,
                "findings": [],
                "settings": [],
            }
        ],
    },
    "made": [],
    "told": False,
    "standing": [],
}


REAL = {
    name: getattr(Store, name)
    for name in ("_async_load", "_async_write_data", "async_remove")
}
"""What the test plugin keeps in memory while Home Assistant runs."""


@pytest.fixture
def disk(hass: HomeAssistant, tmp_path: Path) -> Iterator[Path]:
    """Keep everything on a separate disk; return where the files are."""
    hass.config.config_dir = str(tmp_path)
    folder = tmp_path / ".storage"
    folder.mkdir()
    # Undone before the plugin undoes its own changes.
    with pytest.MonkeyPatch.context() as patch:
        for name, method in REAL.items():
            patch.setattr(Store, name, method)
        yield folder


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop, disk: Path) -> MockConfigEntry:
    """Set a system up that has a past, and end its process in the middle of a run."""
    entry = system_entry(ducted_parts(), **FAN, **KEPT)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(40, 1)
    workshop.put(SAW_POWER, "unavailable")
    await workshop.pass_time(70, 2)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(4)
    await hass.services.async_call(
        DOMAIN,
        "pause_automatic",
        {"entity_id": "switch.dust_collector", "duration": {"hours": 2}},
        blocking=True,
    )
    walks: Store[Any] = Store(hass, 1, FILES[FileKind.WALK])
    drift: Store[Any] = Store(hass, 1, FILES[FileKind.DRIFT])
    runner = entry.runtime_data.system_check
    if runner.last is None:
        await walks.async_save(WALKED)
    await drift.async_save({"looked": {"saw": 1.0}, "ignored": {}})
    draft = hass.data[DRAFTS]["system"]
    draft.put(draft.plan, RevisionCause.SAVED, None)
    await draft.write()
    await end(hass)
    workshop.sent()
    return entry


async def end(hass: HomeAssistant) -> None:
    """End the process: what is in memory is gone."""
    assert await hass.config_entries.async_unload("system")
    hass.data["gatewright_handovers"].clear()
    hass.data.pop("gatewright_pauses", None)
    hass.data.pop("gatewright_plans", None)
    await hass.async_block_till_done()


async def begin(hass: HomeAssistant, workshop: Workshop) -> None:
    """Start again; whatever is damaged, there's a working system afterwards."""
    assert await hass.config_entries.async_setup("system")
    await hass.async_block_till_done()
    await workshop.pass_time(2, 1)


def issues_of(hass: HomeAssistant, begins: str) -> dict[str, ir.IssueEntry]:
    """Return our repairs with this id prefix."""
    return {
        issue_id: issue
        for (domain, issue_id), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue_id.startswith(begins)
    }


def names(disk: Path) -> set[str]:
    """Return the names of the files on a disk."""
    return {path.name for path in disk.iterdir()}


def lost(hass: HomeAssistant) -> set[str]:
    """Return the kinds of files in the repairs."""
    return {issue_id.rpartition("_")[2] for issue_id in issues_of(hass, "file_lost_")}


def cut(text: str) -> str:
    return text[: len(text) // 2]


def newer(text: str) -> str:
    return json.dumps({**json.loads(text), "version": 99})


def with_data(data: object) -> Callable[[str], str]:
    return lambda text: json.dumps({**json.loads(text), "data": data})


DAMAGES: dict[str, Callable[[str], str]] = {
    "empty": lambda _: "",
    "cut": cut,
    "noise": lambda _: "\x00\x07nothing",
    "newer": newer,
    "no version": lambda text: json.dumps({"data": json.loads(text)["data"]}),
    "a list": with_data([1, 2]),
    "a number": with_data(7),
    "an infinite number": lambda text: text.replace("0.0", "1e400").replace("1", "1e9"),
}


@pytest.mark.parametrize("way", DAMAGES)
async def test_every_file_damaged_alone_and_all_at_once(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    way: str,
) -> None:
    """Each is renamed and reported; the system works, with starts blocked if its memory is lost."""
    damage = DAMAGES[way]
    good = {kind: (disk / name).read_text() for kind, name in FILES.items()}
    for kinds in (*([kind] for kind in FILES), list(FILES)):
        for kind, name in FILES.items():
            text = damage(good[kind]) if kind in kinds else good[kind]
            (disk / name).write_text(text)
        before = names(disk)
        await begin(hass, workshop)
        assert entry.state is ConfigEntryState.LOADED
        found = lost(hass)
        # Not every file has a number that can be made infinite.
        assert found <= {*kinds}
        if way != "an infinite number":
            assert found == {*kinds}
        for lost_kind in found:
            aside = names(disk) - before
            assert any(name.startswith(FILES[FileKind(lost_kind)]) for name in aside)
        blocked = FileKind.MEMORY in found
        assert workshop.state(START_BLOCK) == ("on" if blocked else "off")
        general = [d for d, i in ir.async_get(hass).issues if "corruption" in i]
        assert general == []
        if blocked:
            # A running saw isn't served until the owner allows starts.
            assert not workshop.collector.is_on
        await end(hass)
        for issue_id in issues_of(hass, ""):
            ir.async_delete_issue(hass, DOMAIN, issue_id)


async def test_the_owner_releases_a_system_whose_memory_is_gone(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    hass_client: ClientSessionGenerator,
) -> None:
    for component in ("http", "repairs"):
        assert await async_setup_component(hass, component, {})
    assert entry.data["remembers"] is True
    await begin(hass, workshop)
    await hass.services.async_call(
        "switch", "turn_on", {"entity_id": START_BLOCK}, blocking=True
    )
    await end(hass)
    (disk / FILES[FileKind.MEMORY]).unlink()
    await begin(hass, workshop)
    assert workshop.state(START_BLOCK) == "on"
    (issue_id,) = issues_of(hass, "file_lost_")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    assert ("turn_on", COLLECTOR) not in workshop.sent()
    client = await hass_client()
    answer = await client.post(
        "/api/repairs/issues/fix", json={"handler": DOMAIN, "issue_id": issue_id}
    )
    flow = await answer.json()
    assert flow["step_id"] == "confirm"
    await client.post(f"/api/repairs/issues/fix/{flow['flow_id']}", json={})
    await workshop.pass_time(3)
    assert workshop.state(START_BLOCK) == "off"
    assert ("turn_on", COLLECTOR) in workshop.sent()
    assert issues_of(hass, "file_lost_") == {}


async def test_a_first_set_up_is_not_blocked(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    await workshop.start(system_entry())
    assert workshop.state(START_BLOCK) == "off"
    assert lost(hass) == set()


@pytest.mark.parametrize("broken", ["files", "entry", "both"])
async def test_a_broken_system_is_removed_without_a_trace(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    disk: Path,
    broken: str,
) -> None:
    """The collector turns off, hidden entities are shown, and no file is left."""
    if broken != "entry":
        for name in FILES.values():
            (disk / name).write_text('{"version": 1, "data": {"keeps_on": 7}}')
    if broken != "files":
        hass.config_entries.async_update_entry(
            entry, data={**entry.data, "run_on": "soon", "hide_wrapped": None}
        )
        part = entry.subentries["saw"]
        hass.config_entries.async_update_subentry(entry, part, data={"kind": 5})
    relay = er.async_get(hass).async_get(COLLECTOR)
    assert relay is not None
    assert relay.hidden
    on = [workshop.collector.is_on]
    assert await hass.config_entries.async_remove("system")
    await workshop.settle()
    on.append(workshop.collector.is_on)
    assert on == [True, False]
    assert ("close_cover", SAW_GATE) not in workshop.sent()
    relay = er.async_get(hass).async_get(COLLECTOR)
    assert relay is not None
    assert not relay.hidden
    await workshop.pass_time(2)
    assert not [name for name in names(disk) if name.startswith("gatewright.system")]
    assert issues_of(hass, "") == {}


async def test_a_pause_that_cannot_be_kept_is_reported(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    await begin(hass, workshop)
    target = disk / FILES[FileKind.PAUSES]
    target.unlink()
    # Nothing can be written there any more, as on a full disk.
    target.mkdir()
    with pytest.raises(HomeAssistantError) as err:
        await hass.services.async_call(
            DOMAIN,
            "pause_automatic",
            {"entity_id": "switch.dust_collector", "duration": {"hours": 1}},
            blocking=True,
        )
    assert err.value.translation_key == "pause_not_kept"
    # It has begun, and it will end unless something is restarted.
    assert workshop.state("switch.dust_collector_automatic") == "off"


async def test_files_of_the_first_version_are_taken_up(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    """Written by 0.1.0 in the middle of a run, with an emptying, a request, a pause."""
    file = Path(__file__).with_name("kept_by_0_1_0.json")
    kept = json.loads(await hass.async_add_executor_job(file.read_text))
    hass_storage.update(kept)
    entry = system_entry(ducted_parts(), **FAN, **KEPT)
    await workshop.load(entry)
    assert lost(hass) == set()
    assert workshop.state(START_BLOCK) == "off"
    assert entry.data["remembers"] is True
    assert workshop.state("switch.dust_collector_automatic") == "off"
    assert workshop.state("switch.floor_sweep") == "on"
    keeper = entry.runtime_data.maintenance.keeper
    assert len(keeper.bin.emptyings) == 1
    assert {run.name for run in keeper.record.runs} == {"Table saw", "Planer"}
    assert float(workshop.state("sensor.table_saw_running_time")) > 0


# Values --------------------------------------------------------------------------------

MUTANTS: tuple[Any, ...] = (None, "x", -1, 1e300, True, [], {"a": 1})


def mutations(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of every value in plain data."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from mutations(value, (*path, key))


def mutated(data: Any, place: tuple[Any, ...], value: Any) -> Any:
    """Return plain data with another value at a path."""
    changed = copy.deepcopy(data)
    holder = changed
    for key in place[:-1]:
        holder = holder[key]
    holder[place[-1]] = value
    return changed


async def test_no_value_of_the_memory_or_past_breaks_what_takes_it_up(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    """Every value mutated in every way: it's rejected, or it works."""
    memory, past = (
        json.loads((disk / FILES[kind]).read_text())["data"]
        for kind in (FileKind.MEMORY, FileKind.MAINTENANCE)
    )
    assert memory["machines"]["saw"]["running"]
    assert past["record"]
    config = readable(hass, entry)
    system, stored = load_config(hass, config).system, config.system
    plan = stored.maintenance()
    refused = taken = 0
    for kept, judge in (
        (memory, lambda data: try_memory(system, stored, data)),
        (past, lambda data: try_past(system, stored, data, memory)),
    ):
        for place in mutations(kept):
            for value in MUTANTS:
                data = mutated(kept, place, value)
                try:
                    judge(data)
                except Exception:  # noqa: BLE001 - then it is put aside
                    refused += 1
                    continue
                taken += 1
                shop = ShopControl(system, 0.0)
                restore(shop, data if kept is memory else memory, 0.0)
                keeper = Maintenance(plan, shop)
                if kept is past:
                    keeper.restore(data, 0.0)
                afterwards(shop, keeper)
    assert refused > 300
    assert taken > 300


def afterwards(shop: ShopControl, keeper: Maintenance) -> None:
    """Run everything, in ways that the check didn't try."""
    work(shop, 5.0, keeper)
    work(shop, 200_000.0, keeper)
    json.dumps(save(shop, 300_000.0), allow_nan=False)
    json.dumps(keeper.save(300_000.0), allow_nan=False)


async def test_values_mutated_on_disk_leave_a_system_that_works(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, disk: Path
) -> None:
    """Some mutations of each file, through set-up, a run and unload."""
    random = Random(15)
    good = {kind: json.loads((disk / name).read_text()) for kind, name in FILES.items()}
    for _ in range(25):
        for kind, name in FILES.items():
            kept = good[kind]
            place = random.choice(list(mutations(kept["data"])))
            data = mutated(kept["data"], place, random.choice(MUTANTS))
            (disk / name).write_text(json.dumps({**kept, "data": data}))
        await begin(hass, workshop)
        assert entry.state is ConfigEntryState.LOADED
        if workshop.state(START_BLOCK) == "on":
            await workshop.call("turn_off", START_BLOCK)
        await workshop.call("turn_on", "switch.dust_collector_automatic")
        workshop.watts(SAW_POWER, 1400)
        await workshop.pass_time(3, 1)
        assert workshop.collector.is_on
        await hass.services.async_call(
            DOMAIN,
            "get_summary",
            {"config_entry_id": "system"},
            blocking=True,
            return_response=True,
        )
        await end(hass)
        for issue_id in issues_of(hass, ""):
            ir.async_delete_issue(hass, DOMAIN, issue_id)


async def test_one_bad_part_costs_itself_and_is_named(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    for part_id, key, value in (
        ("planer", "hold", "long"),
        ("planer", "kind", "rocket"),
        ("planer", "clearing", [{"gates": 5}]),
        ("planer", "stop", 1e9),
        ("planer_gate", "travel", None),
        ("planer_gate", "rest", 7),
        ("far", "diameter", -1),
        ("far", "duct_material", ["tin"]),
        ("far", "elbows", [{}]),
    ):
        parts = ducted_parts()
        (part,) = [part for part in parts if part["subentry_id"] == part_id]
        part["data"] = {**part["data"], key: value}
        entry = system_entry(parts, **FAN)
        await workshop.load(entry)
        issues = issues_of(hass, "unreadable_")
        assert any(
            issue.translation_placeholders
            and issue.translation_placeholders["name"] == part["title"]
            for issue in issues.values()
        ), (part_id, key)
        await workshop.saw_runs()
        assert workshop.collector.is_on
        assert entry.runtime_data.air.shop is not None
        workshop.watts(SAW_POWER, 2)
        await workshop.pass_time(30, 2)
        assert await hass.config_entries.async_remove("system")
        await workshop.settle()
        assert issues_of(hass, "") == {}


async def test_a_bad_value_of_the_collector_is_taken_as_not_given(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    bad: dict[str, Any] = {
        "run_on": None,
        "coast": "long",
        "hand_gates": {"a": 1},
        "fan_points": [[0.0, None], [1.0, 2.0]],
        "services": [{"name": 5}],
        "bin_volume": [],
        "emergency": 7,
        "energy_price": "much",
        "altitude": "high",
    }
    entry = system_entry(ducted_parts(), **{**FAN, **KEPT, **bad})
    await workshop.load(entry)
    values = {
        issue.translation_placeholders["value"]
        for issue in issues_of(hass, "unreadable_").values()
        if issue.translation_placeholders
    }
    assert values == {*bad}
    await workshop.saw_runs()
    assert workshop.collector.is_on
    # The stored data is still there, to be repaired.
    assert entry.data["fan_points"] == bad["fan_points"]


async def test_what_cannot_be_used_stays_stored_when_something_else_is_written(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    """A fan with one point isn't usable; a written memory is noted beside it."""
    odd: dict[str, Any] = {
        "fan_points": [[0.3, 2500.0]],
        "run_on": "soon",
        "services": [{"id": 5}],
    }
    entry = system_entry(ducted_parts(), **odd)
    assert "remembers" not in entry.data
    before = {**entry.data}
    await workshop.load(entry)
    assert entry.runtime_data.context.described.system.air.fan_points == ()
    values = {
        issue.translation_placeholders["value"]
        for issue in issues_of(hass, "unreadable_").values()
        if issue.translation_placeholders
    }
    assert values == {*odd}
    assert entry.data == before | {"remembers": True}


async def test_without_its_switch_a_system_says_so_and_can_be_removed(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    entry = system_entry(switch=None)
    entry.add_to_hass(hass)
    assert not await hass.config_entries.async_setup("system")
    assert entry.state is ConfigEntryState.SETUP_ERROR
    assert entry.error_reason_translation_key == "collector_unreadable"
    assert await hass.config_entries.async_remove("system")


def test_every_value_that_a_form_stores_can_be_judged() -> None:
    """So a new one is never read without a check of its value."""
    for form, known in (
        (COLLECTOR_FORM, StoredSystem),
        (DUCT, StoredDuct),
        (GATE, StoredGate),
        (MACHINE, StoredMachine),
    ):
        assert form.owned <= keys_of(known)


async def test_values_of_the_entry_mutated(
    hass: HomeAssistant, workshop: Workshop, disk: Path
) -> None:
    """Whatever is wrong with one value, a system is set up that serves the saw.

    Unless it's the saw's or its gate's, or the collector's switch.
    """
    parts = ducted_parts()
    plain = {**FAN, **KEPT}
    places: list[tuple[str | None, str]] = [(None, key) for key in plain]
    places += [(None, key) for key in ("run_on", "coast", "rest_time", "hand_gates")]
    places += [
        (part["subentry_id"], key)
        for part in parts
        for key in part["data"]
        if part["subentry_id"] not in ("saw", "saw_gate")
    ]
    random = Random(15)
    for part_id, key in random.sample(places, 40):
        value = random.choice(MUTANTS)
        changed = copy.deepcopy(parts)
        for part in changed:
            if part["subentry_id"] == part_id:
                part["data"] = {**part["data"], key: value}
        data = {**plain, **({key: value} if part_id is None else {})}
        entry = system_entry(changed, **data)
        await workshop.load(entry)
        workshop.watts(SAW_POWER, 1400)
        await workshop.pass_time(3, 1)
        assert workshop.collector.is_on, (part_id, key, value)
        workshop.watts(SAW_POWER, 2)
        assert await hass.config_entries.async_remove("system")
        await workshop.settle()
        assert not workshop.collector.is_on


async def test_a_part_that_fails_at_set_up_leaves_no_live_entity(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def fails(_watch: DriftMonitor) -> None:
        raise RuntimeError("no")

    monkeypatch.setattr(DriftMonitor, "start", fails)
    entry = system_entry(standard_parts())
    entry.add_to_hass(hass)
    assert not await hass.config_entries.async_setup("system")
    await hass.async_block_till_done()
    alive = [
        state.entity_id
        for state in hass.states.async_all()
        if (found := er.async_get(hass).async_get(state.entity_id))
        and found.platform == DOMAIN
        and state.state != "unavailable"
    ]
    assert alive == []
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    assert workshop.sent() == []
