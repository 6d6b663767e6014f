"""Sentences for Home Assistant's own assistant, their actions and answers."""

import re
from typing import Any, cast

from homeassistant.components.conversation import async_converse
from homeassistant.components.homeassistant.const import DATA_EXPOSED_ENTITIES
from homeassistant.components.homeassistant.exposed_entities import (
    async_expose_entity,
    async_should_expose,
)
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.texts.spoken_texts import spoken_texts

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_GATE,
    SAW_POWER,
    Workshop,
    add_part,
    change_system,
    gate,
    machine,
    system_entry,
)

TABLE_SAW_SWITCH = "switch.table_saw_dust_collection"


@pytest.fixture
async def shop(hass: HomeAssistant, workshop: Workshop) -> Workshop:
    """Return the standard workshop in a Home Assistant that listens."""
    assert await async_setup_component(hass, "homeassistant", {})
    assert await async_setup_component(hass, "intent", {})
    assert await async_setup_component(hass, "conversation", {})
    await workshop.start(system_entry())
    return workshop


async def say(
    hass: HomeAssistant, text: str, context: Context | None = None
) -> tuple[str, str]:
    """Say something; return the kind of the answer and its words."""
    result = await async_converse(hass, text, None, context or Context(), language="en")
    await hass.async_block_till_done()
    response = result.response
    return str(response.response_type.value), str(response.speech["plain"]["speech"])


# Home Assistant's own sentences --------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "entity", "becomes"),
    [
        ("turn on the floor sweep", "switch.floor_sweep", "on"),
        ("switch the floor sweep on", "switch.floor_sweep", "on"),
        ("turn on the table saw dust collection", TABLE_SAW_SWITCH, "on"),
        ("turn on dust collection at the table saw", TABLE_SAW_SWITCH, "on"),
        ("turn on the suction at the table saw", TABLE_SAW_SWITCH, "on"),
        ("switch on extraction at the table saw", TABLE_SAW_SWITCH, "on"),
        ("turn on air at the table saw", TABLE_SAW_SWITCH, "on"),
        ("open the planer gate", "cover.planer_gate", "open"),
        ("turn on the dust collector", "switch.dust_collector", "on"),
        ("switch on the collector", "switch.dust_collector", "on"),
    ],
)
async def test_home_assistants_own_sentences_work(
    hass: HomeAssistant, shop: Workshop, said: str, entity: str, becomes: str
) -> None:
    assert shop.state(entity) != becomes
    assert (await say(hass, said))[0] == "action_done"
    await shop.pass_time(6)
    assert shop.state(entity) == becomes


async def test_the_collector_really_starts_and_stops(
    hass: HomeAssistant, shop: Workshop
) -> None:
    await say(hass, "turn on the floor sweep")
    await shop.pass_time(2)
    assert shop.state(COLLECTOR) == "on"
    await say(hass, "turn off the dust collector")
    await shop.pass_time(5)
    assert shop.state(COLLECTOR) == "off"
    assert shop.state("switch.floor_sweep") == "off"


async def test_a_gate_is_closed_again(hass: HomeAssistant, shop: Workshop) -> None:
    await say(hass, "open the planer gate")
    await shop.pass_time(6)
    assert shop.state(PLANER_GATE) == "on"
    assert (await say(hass, "is the planer gate open"))[1].startswith("Yes")
    await say(hass, "close the planer gate")
    await shop.pass_time(6)
    assert shop.state(PLANER_GATE) == "off"


async def test_nobody_starts_the_saw_itself_by_voice(
    hass: HomeAssistant, shop: Workshop
) -> None:
    """The switch is about dust collection; the machine's name alone gets a hint."""
    for said in ("turn on the table saw", "switch the Table Saw on", "start table saw"):
        _, answer = await say(hass, said)
        assert answer.startswith("I can't turn on Table saw; use its own switch.")
    assert shop.sent() == []
    assert shop.state("switch.table_saw_dust_collection") == "off"
    # Its suggestion works.
    instead = answer.rpartition("say: ")[2].rstrip(".")
    assert (await say(hass, instead))[0] == "action_done"
    assert shop.state("switch.table_saw_dust_collection") == "on"


async def test_what_is_called_like_a_machine_is_turned_on(
    hass: HomeAssistant, shop: Workshop
) -> None:
    """Whoever names the saw's plug means the plug; and names come and go."""
    registry = er.async_get(hass)
    lamp = registry.async_get(LAMP)
    assert lamp is not None
    registry.async_update_entity(LAMP, aliases=[er.COMPUTED_NAME, "table saw"])
    async_expose_entity(hass, "conversation", LAMP, True)
    await shop.pass_time(6, 1)
    assert (await say(hass, "turn on the table saw"))[0] == "action_done"
    assert shop.state(LAMP) == "on"
    registry.async_update_entity(LAMP, aliases=[er.COMPUTED_NAME])
    await shop.pass_time(6, 1)
    assert "own switch" in (await say(hass, "turn on the table saw"))[1]


async def test_machines_that_come_and_go_are_known(
    hass: HomeAssistant, shop: Workshop
) -> None:
    entry = cast("MockConfigEntry", hass.config_entries.async_entries(DOMAIN)[0])
    shop.watts("sensor.lathe", 3)
    lathe = machine("m", "Lathe [big]", gates=["saw_gate"], sensor="sensor.lathe")
    add_part(hass, entry, lathe)
    await shop.pass_time(1)
    answer = (await say(hass, "turn on the lathe big"))[1]
    assert answer.startswith("I can't turn on Lathe [big]")
    registry = er.async_get(hass)
    request = registry.async_get_entity_id("switch", DOMAIN, "m_request")
    assert request is not None
    registry.async_update_entity(request, aliases=[er.COMPUTED_NAME])
    answer = (await say(hass, "turn on the lathe big"))[1]
    assert answer == "I can't turn on Lathe [big]; use its own switch."
    hass.config_entries.async_remove_subentry(entry, "m")
    await shop.pass_time(1)
    assert "own switch" not in (await say(hass, "turn on the lathe big"))[1]
    assert await hass.config_entries.async_unload(entry.entry_id)
    assert "own switch" not in (await say(hass, "turn on the table saw"))[1]


async def test_starts_are_not_allowed_by_voice(
    hass: HomeAssistant, shop: Workshop
) -> None:
    await shop.call("turn_on", "switch.dust_collector_block_starts")
    for said in (
        "turn off block starts",
        "turn off the dust collector block starts",
        "turn on the floor sweep",
        "clear the air",
    ):
        assert (await say(hass, said))[0] in ("error", "action_done")
        await shop.pass_time(2)
        assert shop.state("switch.dust_collector_block_starts") == "on"
        assert shop.state(COLLECTOR) == "off"


# Our own sentences --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "limit"),
    [
        ("clear the air", 600),
        ("clear the air in the shop", 600),
        ("Clean up the air in the workshop for 25 minutes", 1500),
    ],
)
async def test_clear_the_air(
    hass: HomeAssistant, shop: Workshop, said: str, limit: float
) -> None:
    """Through the pickup at the hand gate."""
    kind, answer = await say(hass, said)
    assert kind == "action_done"
    minutes = limit // 60
    assert answer == f"Collecting at Floor sweep for {minutes} minutes."
    await shop.pass_time(2)
    assert shop.state(COLLECTOR) == "on"
    await shop.pass_time(limit - 10, 20)
    assert shop.state(COLLECTOR) == "on"
    await shop.pass_time(20, 1)
    assert shop.state(COLLECTOR) == "off"


async def test_a_refusal_is_spoken(hass: HomeAssistant, shop: Workshop) -> None:
    await shop.call("turn_on", "switch.dust_collector_block_starts")
    _, answer = await say(hass, "clear the air in the shop")
    assert answer.startswith("Starts of Dust collector are blocked.")
    _, answer = await say(hass, "clear the air for ever and ever minutes")
    assert answer == "I didn't understand how long."
    assert shop.state("switch.floor_sweep") == "off"


async def test_who_is_served(hass: HomeAssistant, shop: Workshop) -> None:
    said = "who has air"
    nothing = "No dust collection right now."
    assert (await say(hass, said))[1] == nothing
    await shop.saw_runs()
    assert (await say(hass, said))[1] == "Dust collection is on at Table saw."
    await shop.call("turn_on", "switch.floor_sweep")
    await shop.pass_time(2)
    answer = "Dust collection is on at Table saw and Floor sweep."
    assert (await say(hass, "which machines have air right now"))[1] == answer


async def test_is_anything_wrong(hass: HomeAssistant, shop: Workshop) -> None:
    said = "is anything wrong in the shop"
    assert (await say(hass, said))[1] == "Everything is fine."
    shop.watts(SAW_POWER, "unavailable")
    await shop.pass_time(62, 2)
    answer = "Table saw has lost its reading."
    assert (await say(hass, said))[1] == answer
    assert (await say(hass, "what's wrong with the dust collector?"))[1] == answer
    await shop.call("turn_on", "switch.dust_collector_block_starts")
    assert (await say(hass, said))[
        1
    ] == f"{answer} Starts of Dust collector are blocked."


async def test_nobody_listens_to_a_long_list(
    hass: HomeAssistant, shop: Workshop
) -> None:
    entry = cast("MockConfigEntry", hass.config_entries.async_entries(DOMAIN)[0])
    plugs = [f"sensor.plug_{number}" for number in range(5)]
    for number, plug in enumerate(plugs):
        shop.watts(plug, 3)
        part = machine(f"m{number}", f"Lathe {number}", gates=["saw_gate"], sensor=plug)
        add_part(hass, entry, part)
    await shop.pass_time(1)
    for count, rest in ((4, "And one more thing."), (5, "And 2 more things.")):
        for plug in plugs[:count]:
            shop.watts(plug, "unavailable")
        await shop.pass_time(62, 2)
        _, answer = await say(hass, "is anything wrong in the shop")
        assert answer == (
            "Lathe 0 has lost its reading. Lathe 1 has lost its reading. "
            f"Lathe 2 has lost its reading. {rest}"
        )


async def test_without_a_pickup_nothing_clears_the_air(
    hass: HomeAssistant, shop: Workshop
) -> None:
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    hass.config_entries.async_remove_subentry(entry, "sweep")
    await hass.async_block_till_done()
    answer = "No pickup can collect dust right now."
    assert await say(hass, "clear the air") == ("action_done", answer)


async def test_how_long_did_it_run(hass: HomeAssistant, shop: Workshop) -> None:
    said = "how long did the collector run today"
    assert (await say(hass, said))[1] == "The collector hasn't run today."
    await shop.saw_runs()
    await shop.pass_time(20, 5)
    assert re.fullmatch(
        r"The collector ran for \d\d seconds today\.", (await say(hass, said))[1]
    )
    await shop.pass_time(3700, 100)
    answer = "The collector ran for 1 hour and 2 minutes today."
    assert (await say(hass, "how long has the dust collector run today"))[1] == answer


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.2, "1 second"),
        (59.4, "59 seconds"),
        (59.6, "1 minute"),
        (3570, "1 hour"),
        (3660, "1 hour and 1 minute"),
        (7200, "2 hours"),
        (36_000 + 47 * 60, "10 hours and 47 minutes"),
    ],
)
async def test_times_are_said_as_a_person_does(
    hass: HomeAssistant, shop: Workshop, seconds: float, said: str
) -> None:
    assert (await spoken_texts(hass, "en")).duration(seconds) == said
    # In a language that we do not have, the English words.
    assert (await spoken_texts(hass, "fi")).duration(seconds) == said


async def test_is_the_bin_full(hass: HomeAssistant, shop: Workshop) -> None:
    said = "is the bin full"
    unknown = "I don't know how full the bin is."
    assert (await say(hass, said))[1] == unknown
    entry = cast("MockConfigEntry", hass.config_entries.async_entries(DOMAIN)[0])
    hass.states.async_set("binary_sensor.bin_level", "off")
    change_system(hass, entry, bin_full="binary_sensor.bin_level")
    await hass.async_block_till_done()
    # Only a contact: no figure is invented.
    assert (await say(hass, said))[1] == (
        "No, the bin isn't full. I don't know how full it is."
    )
    assert "percent" not in (await say(hass, "how full is the bin"))[1]
    hass.states.async_set("binary_sensor.bin_level", "on")
    await shop.pass_time(1)
    assert (await say(hass, "is the dust bin full"))[1] == "Yes, the bin is full."
    hass.states.async_set("binary_sensor.bin_level", "off")
    await shop.pass_time(1)
    assert "percent" not in (await say(hass, said))[1]


async def test_several_shops_are_told_apart(
    hass: HomeAssistant, shop: Workshop
) -> None:
    other = system_entry([], title="Garage cyclone", entry_id="other", switch=LAMP)
    await shop.load(other)
    _, answer = await say(hass, "how long did the collector run today")
    assert answer == (
        "Dust collector hasn't run today. Garage cyclone hasn't run today."
    )
    _, answer = await say(hass, "how full is the bin")
    assert answer.count("I don't know how full the bin of") == 2


async def test_who_may_not_does_not(hass: HomeAssistant, shop: Workshop) -> None:
    user = MockUser(name="Guest").add_to_hass(hass)
    user.mock_policy({"entities": {"entity_ids": {"switch.lamp": True}}})
    said = await say(hass, "clear the air", Context(user_id=user.id))
    assert said[1] == "You're not allowed to do that."
    assert shop.state("switch.floor_sweep") == "off"


async def test_what_is_not_exposed_is_not_reported(
    hass: HomeAssistant, shop: Workshop
) -> None:
    async_expose_entity(hass, "conversation", "switch.table_saw_dust_collection", False)
    await shop.saw_runs()
    answer = "The collector is running, but dust isn't collected anywhere."
    assert (await say(hass, "who has air"))[1] == answer
    async_expose_entity(hass, "conversation", "switch.dust_collector", False)
    _, answer = await say(hass, "who has air")
    assert answer.startswith("No dust collector is exposed to Assist.")


# How they are introduced --------------------------------------------------------------


async def test_main_entities_are_exposed_and_no_others(
    hass: HomeAssistant, shop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entries = er.async_entries_for_config_entry(entity_registry, "system")
    exposed = {
        entry.entity_id
        for entry in entries
        if async_should_expose(hass, "conversation", entry.entity_id)
    }
    assert exposed >= {
        "switch.dust_collector",
        "switch.floor_sweep",
        "switch.table_saw_dust_collection",
        "cover.saw_gate",
        "binary_sensor.table_saw_running",
        "binary_sensor.table_saw_collecting",
        "binary_sensor.dust_collector_problem",
        "sensor.dust_collector_phase",
    }
    assert not exposed & {
        entry.entity_id for entry in entries if entry.entity_category is not None
    }
    assert "switch.dust_collector_block_starts" not in exposed
    assert COLLECTOR not in exposed
    assert not async_should_expose(hass, "conversation", COLLECTOR)


async def test_the_owners_names_and_choices_stay(
    hass: HomeAssistant, shop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    entity_registry.async_update_entity("switch.dust_collector", aliases=["cyclone"])
    entity_registry.async_update_entity("switch.floor_sweep", aliases=[])
    async_expose_entity(hass, "conversation", "sensor.dust_collector_phase", False)
    # Removed and set up again, like an owner who starts over.
    entity_registry.async_remove("switch.planer_dust_collection")
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()

    def aliases(entity_id: str) -> list[Any]:
        found = entity_registry.async_get(entity_id)
        assert found
        return list(found.aliases)

    assert aliases("switch.dust_collector") == ["cyclone"]
    assert aliases("switch.floor_sweep") == []
    assert aliases("switch.planer_dust_collection") == [
        er.COMPUTED_NAME,
        "Dust collection at the Planer",
        "Suction at the Planer",
        "Air at the Planer",
        "Extraction at the Planer",
    ]
    assert not async_should_expose(hass, "conversation", "sensor.dust_collector_phase")
    assert (await say(hass, "turn on the cyclone"))[0] == "action_done"


async def test_names_that_say_nothing_new_or_are_taken_are_left_out(
    hass: HomeAssistant, shop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    other = system_entry(
        [
            gate("drum", "Drum sander", actuator="switch.drum_gate"),
            gate("drum_2", "Router gate", actuator="switch.router_gate"),
        ],
        title="Garage cyclone",
        entry_id="other",
        switch=LAMP,
        hand_gates=["drum"],
    )
    await shop.load(other)

    def aliases(entity_id: str) -> list[Any]:
        found = entity_registry.async_get(entity_id)
        assert found
        return list(found.aliases)

    assert aliases("switch.dust_collector") == [
        er.COMPUTED_NAME,
        "Collector",
        "Dust extractor",
    ]
    assert aliases("switch.garage_cyclone") == [er.COMPUTED_NAME]
    assert aliases("cover.drum_sander") == [
        er.COMPUTED_NAME,
        "Drum sander gate",
        "Gate of the Drum sander",
        "Gate at the Drum sander",
    ]
    assert aliases("cover.router_gate") == [er.COMPUTED_NAME]


async def test_a_wrapped_relay_is_not_switched_past_the_sequence(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Every assistant that had it loses it, and gets it back in the end."""
    for component in ("homeassistant", "intent", "conversation"):
        assert await async_setup_component(hass, component, {})
    # A name as people say it: not every release accepts a merely similar one.
    er.async_get(hass).async_update_entity(COLLECTOR, name="Collector relay")
    async_expose_entity(hass, "cloud.alexa", COLLECTOR, True)
    await say(hass, "turn on the collector relay")
    assert workshop.state(COLLECTOR) == "on"
    await workshop.call("turn_off", COLLECTOR)
    entry = system_entry()
    await workshop.start(entry)
    await say(hass, "turn on the collector relay")
    await workshop.pass_time(1)
    assert workshop.sent() == []
    # Its replacement opens a gate first.
    await say(hass, "turn on the collector")
    await workshop.pass_time(1)
    assert workshop.sent() == [
        ("open_valve", "valve.sweep_gate_actuator"),
        ("turn_on", COLLECTOR),
    ]
    for assistant in ("conversation", "cloud.alexa"):
        assert not async_should_expose(hass, assistant, COLLECTOR)
    # The owner's changes stay then, across restarts too.
    async_expose_entity(hass, "conversation", PLANER_GATE, True)
    assert await hass.config_entries.async_reload(entry.entry_id)
    assert async_should_expose(hass, "conversation", PLANER_GATE)
    change_system(hass, entry, hide_wrapped=False)
    await hass.async_block_till_done()
    for assistant in ("conversation", "cloud.alexa"):
        assert async_should_expose(hass, assistant, COLLECTOR)


async def test_a_pickup_and_its_gate_may_have_one_name(
    hass: HomeAssistant, shop: Workshop
) -> None:
    """Whichever was there first; the gate then has its longer name."""
    parts = [
        gate("a", "Bench hood", actuator="switch.a"),
        machine("b", "Bench hood", gates=["a"]),
        gate("c", "Lathe", actuator="switch.c"),
    ]
    hass.states.async_set("switch.a", "off")
    hass.states.async_set("switch.c", "off")
    other = system_entry(parts, title="Annex", entry_id="other", switch=LAMP)
    await shop.load(other)
    add_part(hass, other, machine("d", "Lathe", gates=["c"]))
    await shop.pass_time(1)
    for name in ("bench hood", "lathe"):
        entity = f"switch.{name.replace(' ', '_')}"
        assert (await say(hass, f"turn on the {name}"))[0] == "action_done"
        assert shop.state(entity) == "on"
        assert (await say(hass, f"turn off the {name}"))[0] == "action_done"
        assert shop.state(entity) == "off"
        assert (await say(hass, f"open the {name} gate"))[0] == "action_done"


async def test_home_assistant_that_exposes_nothing_new_is_left_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    assert await async_setup_component(hass, "homeassistant", {})
    hass.data[DATA_EXPOSED_ENTITIES].async_set_expose_new_entities(
        "conversation", False
    )
    await workshop.start(system_entry())
    for entity_id in ("switch.dust_collector", "binary_sensor.table_saw_collecting"):
        assert not async_should_expose(hass, "conversation", entity_id)
