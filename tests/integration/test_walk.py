"""The system check, through its pages."""

import asyncio
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import issue_registry as ir
import pytest
from pytest_homeassistant_custom_component.common import async_fire_time_changed

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.commissioning.findings import (
    CheckOutcome,
    End,
    FindingKind,
    SettingKind,
)
from custom_components.gatewright.core.commissioning.task import (
    ANSWERS,
    Ask,
    SignalRole,
    Stage,
)
from custom_components.gatewright.forms.flow.settings_pages import PAGES
from custom_components.gatewright.forms.flow.system_check import SystemCheckFlow

from .flow_helpers import TEXTS
from .walk_shop import (
    BARE_SLIDE,
    CLOSED_END,
    OPEN_END,
    PLANER_SLIDE,
    POWER,
    SAW_SLIDE,
    Person,
    WalkShop,
)
from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_POWER,
    WATTS,
    Workshop,
    add_part,
    change_part,
    gate,
)

HAND_END = "binary_sensor.hand_gate_open"
LAST = "sensor.dust_collector_last_system_check"
FINDINGS = "sensor.dust_collector_system_check_findings"
GOING = "binary_sensor.dust_collector_system_check"


@pytest.fixture
def shop(workshop: Workshop) -> WalkShop:
    """Return a workshop with slow slides."""
    return WalkShop(workshop)


async def machines(person: Person) -> None:
    """Turn the saw on and off, then the planer."""
    for plug in (SAW_POWER, PLANER_POWER):
        await person.wait("run_machine")
        person.workshop.watts(plug, 1400)
        await person.choose("go")
        await person.workshop.pass_time(6)
        person.workshop.watts(plug, 2)
        await person.workshop.pass_time(6)
        await person._configure(None)


async def all_round(person: Person) -> None:
    """Check the whole shop of two gates and two machines."""
    await person.begin()
    await machines(person)
    await person.wait("start_collector")
    await person.choose("go")
    await person.wait("does_turn")
    await person.choose("yes")
    await person.wait("found")


def issues(hass: HomeAssistant) -> set[str]:
    """Return the checks' issues."""
    return {
        str(issue.translation_key)
        for issue in ir.async_get(hass).issues.values()
        if issue.domain == DOMAIN and str(issue.translation_key).startswith("walk_")
    }


async def test_a_whole_round(hass: HomeAssistant, shop: WalkShop) -> None:
    entry = await shop.start()
    workshop = shop.workshop
    assert workshop.state(LAST) == "unknown"
    person = Person(shop, entry)
    await person.begin()
    assert person.step == "moving"
    assert "Saw gate opens" in person.text
    assert "Hands off" in person.text
    assert workshop.state(GOING) == "on"
    await machines(person)
    # None of them was served on its own.
    assert ("turn_on", COLLECTOR) not in workshop.calls
    await person.wait("start_collector")
    assert "hearing protection" in person.text
    await person.choose("go")
    await person.wait("does_turn")
    assert workshop.state(COLLECTOR) == "on"
    assert workshop.state(SAW_SLIDE) == "open"
    await person.choose("yes")
    await person.wait("found")
    assert "system check finished" in person.text
    assert "Suggested travel time: 2.5 s" in person.text
    await person.send(set=True)
    assert person.result["type"] is FlowResultType.CREATE_ENTRY
    assert entry.subentries["saw_gate"].data["travel"] == 2.5
    assert entry.subentries["planer_gate"].data["travel"] == 2.5
    await workshop.pass_time(15)
    assert workshop.state(COLLECTOR) == "off"
    assert workshop.state(SAW_SLIDE) == "closed"
    assert workshop.state(GOING) == "off"
    assert workshop.state(FINDINGS) == "0"
    assert workshop.state(LAST) != "unknown"
    assert issues(hass) == set()
    # It works as before: a running machine is served.
    await workshop.saw_runs()
    await workshop.pass_time(4)
    assert workshop.state(COLLECTOR) == "on"


async def test_what_is_found_is_kept_among_the_repairs(
    hass: HomeAssistant, shop: WalkShop, hass_storage: dict[str, Any]
) -> None:
    entry = await shop.start(power=POWER)
    shop.workshop.put(POWER, "0", WATTS)
    shop.saw.stuck = True
    person = Person(shop, entry)
    await person.begin("saw_gate", "planer", "collector")
    await person.wait("how_stands")
    assert "Hands off: it should be open." in person.text
    await person.choose("is_shut")
    await person.wait("run_machine")
    shop.workshop.watts(SAW_POWER, 1400)
    await person.choose("go")
    await shop.workshop.pass_time(18)
    shop.workshop.watts(SAW_POWER, 2)
    await person.wait("start_collector")
    await person.choose("skip")
    await person.wait("found")
    assert "Saw gate doesn't move" in person.text
    assert "Planer runs, but Table saw responds" in person.text
    assert issues(hass) == set()
    await person.send()
    assert issues(hass) == {"walk_not_moving", "walk_wrong_reading"}
    assert shop.workshop.state(FINDINGS) == "2"

    # They remain after a restart, and go when a check finds everything in order.
    assert hass_storage[f"{DOMAIN}.{entry.entry_id}.walk"]["data"]["told"]
    await hass.config_entries.async_unload(entry.entry_id)
    for key in list(ir.async_get(hass).issues):
        ir.async_delete_issue(hass, *key)
    await shop.workshop.start(entry)
    assert issues(hass) == {"walk_not_moving", "walk_wrong_reading"}
    await person.open()
    await person.choose("last_report")
    assert "Saw gate doesn't move" in person.text
    await person.send()
    await person.close()

    # A check of one gate says nothing about another part; if it passes by and finds it unchanged, the
    # issue stays.
    await person.begin("planer_gate")
    await person.wait("found")
    assert issues(hass) == {"walk_not_moving", "walk_wrong_reading"}
    await person.send()
    shop.saw.stuck = False
    await person.begin("saw_gate")
    await person.wait("found")
    assert issues(hass) == {"walk_wrong_reading"}
    assert shop.workshop.state(FINDINGS) == "1"
    await person.send()
    await person.begin("planer")
    await person.choose("skip")
    await person.send()
    assert issues(hass) == {"walk_wrong_reading"}
    await person.begin("planer")
    shop.workshop.watts(PLANER_POWER, 1400)
    await shop.workshop.pass_time(2)
    await person.choose("go")
    await shop.workshop.pass_time(6)
    shop.workshop.watts(PLANER_POWER, 2)
    await person.wait("found")
    await person.send()
    assert issues(hass) == set()
    assert shop.workshop.state(FINDINGS) == "0"

    await hass.config_entries.async_remove(entry.entry_id)
    assert f"{DOMAIN}.{entry.entry_id}.walk" not in hass_storage


async def test_a_collector_whose_power_does_not_rise(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start(power=POWER)
    shop.workshop.put(POWER, "0", WATTS)
    person = Person(shop, entry)
    await person.begin("collector")
    await person.choose("go")
    await person.wait("found")
    assert "draws no power" in person.text
    assert "licensed electrician" in person.text
    await person.send()
    assert issues(hass) == {"walk_no_power"}
    assert shop.workshop.state(COLLECTOR) == "off"

    await person.begin("collector")
    await person.choose("go")
    await shop.workshop.pass_time(4)
    shop.workshop.put(POWER, "1100", WATTS)
    await shop.workshop.pass_time(6)
    shop.workshop.put(POWER, "0", WATTS)
    await person.wait("found")
    assert "**Dust collector**: OK, 0.0 s" in person.text
    await person.send()
    assert issues(hass) == set()


async def test_a_gate_watched_by_a_person(hass: HomeAssistant, shop: WalkShop) -> None:
    entry = await shop.start(bare=True)
    person = Person(shop, entry)
    await person.begin("bare_gate")
    assert person.step == "watch_gate"
    assert shop.workshop.sent() == []
    await person.choose("go")
    assert shop.workshop.sent() == [("turn_on", BARE_SLIDE)]
    await shop.workshop.pass_time(7)
    await person.choose("arrived")
    assert shop.workshop.sent() == [("turn_off", BARE_SLIDE)]
    await shop.workshop.pass_time(5)
    await person.choose("arrived")
    assert person.step == "found"
    await person.send()
    assert entry.subentries["bare_gate"].data["travel"] == pytest.approx(9.5, abs=0.5)
    assert issues(hass) == set()


@pytest.mark.parametrize(
    ("answer", "reported", "issue"),
    [
        ("stayed", "Bare gate doesn't move", "walk_not_moving"),
        ("another_moved", "Another gate moves instead", "walk_another_moves"),
    ],
)
async def test_a_gate_seen_not_to_obey(
    hass: HomeAssistant, shop: WalkShop, answer: str, reported: str, issue: str
) -> None:
    entry = await shop.start(bare=True)
    before = entry.subentries["bare_gate"].data
    person = Person(shop, entry)
    await person.begin("bare_gate")
    await person.choose("go")
    await person.choose(answer)
    await person.wait("found")
    assert reported in person.text
    await person.send()
    assert issues(hass) == {issue}
    assert entry.subentries["bare_gate"].data == before


async def test_a_collector_seen_not_to_turn(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    person = Person(shop, await shop.start())
    await person.begin("collector")
    await person.choose("go")
    await person.wait("does_turn")
    await person.choose("no")
    await person.wait("found")
    await person.send()
    assert issues(hass)
    await shop.workshop.pass_time(25)
    assert shop.workshop.state(COLLECTOR) == "off"


@pytest.mark.parametrize("answer", ["go", "skip", "end_walk"])
async def test_a_page_left_open_while_its_system_goes(
    hass: HomeAssistant, shop: WalkShop, answer: str
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("saw")
    await hass.config_entries.async_unload(entry.entry_id)
    await person.choose(answer)
    assert person.result["reason"] == "not_loaded"


async def test_a_page_left_open_while_its_system_is_reloaded(
    hass: HomeAssistant, shop: WalkShop, hass_storage: dict[str, Any]
) -> None:
    entry = await shop.start()
    for kept in (True, False):
        person = Person(shop, entry)
        await person.begin("saw")
        await hass.config_entries.async_unload(entry.entry_id)
        if not kept:
            del hass_storage[f"{DOMAIN}.{entry.entry_id}.walk"]
        await hass.config_entries.async_setup(entry.entry_id)
        await person.choose("go")
        # The check ended with the system; its results are shown, if they're still known.
        if kept:
            assert "system check canceled" in person.text
        else:
            assert person.result["reason"] == "not_loaded"


async def test_a_report_left_open_while_its_system_goes(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("saw")
    await person.choose("end_walk")
    assert person.step == "found"
    await hass.config_entries.async_unload(entry.entry_id)
    await person.send()
    assert person.result["reason"] == "not_loaded"


async def test_an_actuator_the_wrong_way_round_is_turned(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start(bare=True)
    person = Person(shop, entry)
    await person.begin("bare_gate")
    await person.choose("go")
    await person.choose("went_wrong_way")
    await person.wait("found")
    await person.send(set=False)
    assert issues(hass) == {"walk_wrong_way"}
    before = dict(entry.subentries["bare_gate"].data)
    assert before["inverted"] is False
    await person.begin("bare_gate")
    await person.choose("go")
    await person.choose("went_wrong_way")
    await person.wait("found")
    await person.send(set=True)
    assert issues(hass) == set()
    assert entry.subentries["bare_gate"].data["inverted"] is True
    # The command that closes it is sent at once.
    await shop.workshop.pass_time(12)
    assert shop.workshop.state(BARE_SLIDE) == "on"
    assert shop.workshop.state("cover.bare_gate") == "closed"


async def test_exchanged_sensors_are_set_right(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    change_part(
        hass, entry, "planer_gate", open_sensor=CLOSED_END, shut_sensor=OPEN_END
    )
    await shop.workshop.pass_time(20)
    person = Person(shop, entry)
    await person.begin("planer_gate")
    await person.wait("how_stands")
    await person.choose("is_open")
    await person.wait("found")
    await person.send()
    data = entry.subentries["planer_gate"].data
    assert (data["open_sensor"], data["shut_sensor"]) == (OPEN_END, CLOSED_END)
    await shop.workshop.pass_time(12)
    await person.begin("planer_gate")
    await person.wait("found")
    assert "**Planer gate**: OK, 1.5 s" in person.text
    assert shop.workshop.state(CLOSED_END) == "on"


async def test_a_cover_that_only_repeats_its_command(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    shop.saw.travel = 0.0
    person = Person(shop, entry)
    await person.begin("saw_gate")
    await person.wait("watch_gate")
    await person.choose("skip")
    assert person.step == "found"
    assert "skipped" in person.text
    assert "reports before it can have moved" in person.text
    await person.send()
    assert issues(hass) == set()


async def test_a_gate_that_refuses_its_commands(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    shop.workshop.fails[SAW_SLIDE] = HomeAssistantError("no contact")
    person = Person(shop, entry)
    await person.begin("saw_gate")
    await person.wait("found")
    assert "Saw gate rejects commands" in person.text
    await person.send()
    assert issues(hass) == {"walk_command_fails"}


async def test_what_a_gate_says_meanwhile_raises_no_alarm(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    """A gate without an answer is what a check looks for."""
    entry = await shop.start()
    shop.planer.sensors = None
    person = Person(shop, entry)
    await person.begin("planer_gate")
    await shop.workshop.pass_time(19)
    assert shop.workshop.state("binary_sensor.planer_gate_problem") == "off"
    await person.wait("how_stands")
    await person.choose("is_open")
    await person.wait("found")
    assert "moves, but its feedback doesn't change" in person.text
    await shop.workshop.pass_time(20)
    assert shop.workshop.state("binary_sensor.planer_gate_problem") == "off"
    assert shop.workshop.state(PLANER_SLIDE) == "off"


async def test_a_gate_that_is_moved_by_hand(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    add_part(
        hass,
        entry,
        gate("hand_gate", "Hand gate", gate_kind="hand", open_sensor=HAND_END),
    )
    shop.workshop.put(HAND_END, "off")
    await shop.workshop.pass_time(1)
    person = Person(shop, entry)
    await person.begin("hand_gate")
    assert person.step == "open_by_hand"
    shop.workshop.put(HAND_END, "on")
    await person.choose("go")
    await person.wait("shut_by_hand")
    await person.choose("go")
    assert person.step == "moving"
    # A sensor with a battery takes its time.
    await shop.workshop.pass_time(5)
    shop.workshop.put(HAND_END, "off")
    await person.wait("found")
    assert "**Hand gate**: OK" in person.text
    assert shop.workshop.sent() == []


async def test_a_start_block_ends_the_check(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("collector")
    await person.choose("go")
    await shop.workshop.pass_time(4)
    assert shop.workshop.state(COLLECTOR) == "on"
    await shop.workshop.call("turn_on", "switch.dust_collector_block_starts")
    await person.wait("found", 3)
    assert "stopped: starts blocked" in person.text
    assert shop.workshop.state(COLLECTOR) == "off"
    await shop.workshop.pass_time(15)
    assert shop.workshop.state(SAW_SLIDE) == "closed"


# Interrupted -------------------------------------------------------------------------


async def test_a_closed_page_leaves_the_shop_at_rest(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin()
    await shop.workshop.pass_time(1)
    assert shop.workshop.state(SAW_SLIDE) == "opening"
    await person.close()
    assert shop.workshop.state(GOING) == "off"
    await shop.workshop.pass_time(12)
    assert shop.workshop.state(SAW_SLIDE) == "closed"
    await person.open()
    await person.choose("last_report")
    assert "system check canceled" in person.text
    assert "Not checked: Saw gate, Planer gate" in person.text
    # From there the way leads back to the check, and on to the settings.
    await person.send()
    assert person.step == "system_check"
    await person.choose("init")
    assert person.step == "init"


async def test_a_machine_that_starts_ends_the_check_and_is_served(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin()
    await shop.workshop.pass_time(1)
    shop.workshop.watts(PLANER_POWER, 1400)
    await person.wait("found", 5)
    assert "stopped: Planer was running" in person.text
    await shop.workshop.pass_time(4)
    assert shop.workshop.state(COLLECTOR) == "on"
    assert shop.workshop.state(OPEN_END) == "on"
    assert shop.workshop.state(SAW_SLIDE) == "closed"


async def test_a_machine_that_runs_on_while_it_is_asked_for(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("saw")
    assert person.step == "run_machine"
    shop.workshop.watts(SAW_POWER, 1400)
    await shop.workshop.pass_time(30)
    assert shop.workshop.state(COLLECTOR) == "off"
    await shop.workshop.pass_time(25)
    assert shop.workshop.state(COLLECTOR) == "on"
    # The page that is still open says so at the next tap.
    await person.choose("go")
    assert person.step == "found"
    assert "stopped: Table saw was running" in person.text


async def test_a_reload_in_the_middle(hass: HomeAssistant, shop: WalkShop) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("collector")
    await person.choose("go")
    await shop.workshop.pass_time(4)
    assert shop.workshop.state(COLLECTOR) == "on"
    await hass.config_entries.async_reload(entry.entry_id)
    await shop.workshop.pass_time(25)
    assert shop.workshop.state(COLLECTOR) == "off"
    assert shop.workshop.state(SAW_SLIDE) == "closed"


async def test_a_page_that_waits_while_its_system_goes(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("collector")
    await person.choose("go")
    assert person.step == "moving"
    await hass.config_entries.async_unload(entry.entry_id)
    await shop.workshop.settle()
    await person._configure(None)
    assert person.result["reason"] == "not_loaded"


async def test_a_change_of_the_system_ends_it(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    person = Person(shop, entry)
    await person.begin("saw")
    change_part(hass, entry, "saw_gate", travel=4.0)
    await hass.async_block_till_done()
    await person.choose("skip")
    assert "settings changed" in person.text


async def test_only_one_check_and_only_at_rest(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start()
    first, second = Person(shop, entry), Person(shop, entry)
    await first.begin("saw")
    await second.begin()
    assert second.result["errors"] == {"base": "walk_going"}
    await first.choose("end_walk")
    assert first.step == "found"
    await second.send(parts=[])
    assert second.result["errors"] == {"parts": "nothing_chosen"}
    await second.open()
    await second.choose("begin")
    await shop.workshop.saw_runs()
    await second.send(parts=["saw"])
    assert second.result["errors"] == {"base": "walk_at_work"}
    await hass.config_entries.async_unload(entry.entry_id)
    await second.send(parts=["saw"])
    assert second.result["reason"] == "not_loaded"
    await first.open()
    assert first.result["reason"] == "not_loaded"


# The action ------------------------------------------------------------------------


async def check(hass: HomeAssistant, **data: Any) -> Any:
    """Check the gates, while time passes."""
    return await hass.services.async_call(
        DOMAIN,
        "check_gates",
        {"config_entry_id": "system", **data},
        blocking=True,
        return_response=True,
    )


async def test_the_gates_are_checked_without_a_person(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    entry = await shop.start(bare=True)
    shop.planer.travel = 9.0
    answer = hass.async_create_task(check(hass, store=False))
    await walk_on(hass)
    for _ in range(120):
        if answer.done():
            break
        shop.workshop.freezer.tick(0.5)
        await walk_on(hass)
    report = await answer
    assert report["ended"] == "done"
    saw, planer, bare = report["gates"]
    assert (saw["name"], saw["findings"]) == ("Saw gate", [])
    assert saw["seconds"] == pytest.approx(2.0, abs=0.5)
    assert planer["seconds"] == pytest.approx(9.0, abs=0.5)
    assert [found["finding"] for found in planer["findings"]] == ["travel_too_short"]
    assert bare["outcome"] == "unseen"
    assert ("turn_on", BARE_SLIDE) not in shop.workshop.calls
    assert report["open"] == 1
    assert entry.subentries["planer_gate"].data["travel"] == 5.0
    assert issues(hass) == set()


async def walk_on(hass: HomeAssistant) -> None:
    """Let timed events happen while an action waits."""
    async_fire_time_changed(hass)
    for _ in range(30):
        await asyncio.sleep(0)


async def test_the_action_refuses_while_the_shop_works(
    hass: HomeAssistant, shop: WalkShop
) -> None:
    await shop.start()
    await shop.workshop.saw_runs()
    with pytest.raises(ServiceValidationError) as refused:
        await check(hass)
    assert refused.value.translation_key == "walk_at_work"
    shop.workshop.watts(SAW_POWER, 2)
    await shop.workshop.pass_time(30)
    await shop.workshop.call("turn_on", "switch.dust_collector_block_starts")
    with pytest.raises(ServiceValidationError) as refused:
        await check(hass)
    assert refused.value.translation_key == "walk_start_block"


# Texts -----------------------------------------------------------------------------


def test_every_finding_has_words() -> None:
    found_text = {key for key in TEXTS["issues"] if key.startswith("walk_")}
    assert found_text == {f"walk_{kind.value}" for kind in FindingKind}
    for key in found_text:
        text = TEXTS["issues"][key]["description"]
        found, _, advice = text.partition("\n\n**What to do:** ")
        assert found.endswith("."), key
        assert advice.endswith("hen rerun the check."), key


def test_every_step_of_the_check_has_texts() -> None:
    steps = TEXTS["options"]["step"]
    menus = {
        ask.value: {*(answer.value for answer in ANSWERS[ask]), "end_walk"}
        for ask in Ask
    }
    for step, options in menus.items():
        assert steps[step]["menu_options"].keys() == options
    calibration = {
        "calibrate",
        "calibrate_at",
        "calibrate_found",
        "calibration_forget",
    }
    walk = {*menus, "system_check", "last_report", "begin", "found"}
    settings = {*PAGES, "init", "airflow", "go_live", "presets"}
    set_up = {"setup_file", "setup_review"}
    assert steps.keys() == walk | calibration | settings | set_up
    for step in calibration:
        assert hasattr(SystemCheckFlow, f"async_step_{step}")
    assert TEXTS["options"]["progress"].keys() == {stage.value for stage in Stage}
    for step in {option for options in menus.values() for option in options}:
        assert hasattr(SystemCheckFlow, f"async_step_{step}")


def test_every_line_of_a_report_has_words() -> None:
    lines = TEXTS["selector"]["walk_line"]["options"].keys()
    assert lines == {
        "no_walk",
        "open",
        "shut",
        "left",
        "advice_title",
        "in_order",
        "in_order_timed",
        "found",
        "found_timed",
        *(role.value for role in SignalRole),
        *(f"ended_{end.value}" for end in End),
        *(
            outcome.value
            for outcome in CheckOutcome
            if outcome is not CheckOutcome.CHECKED
        ),
        *(f"{how}_{kind.value}" for kind in SettingKind for how in ("made", "can")),
    }


def test_where_something_starts_it_is_said() -> None:
    steps = TEXTS["options"]["step"]
    assert "Hands off" in TEXTS["options"]["progress"]["opening"]
    for step in ("begin", "run_machine", "start_collector"):
        assert "hearing protection" in steps[step]["description"]
    assert "licensed electrician" in steps["begin"]["description"]
    for step in ("see_open", "see_shut"):
        assert "Hands off" in steps[step]["description"]
