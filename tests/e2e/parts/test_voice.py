"""Voice commands move the devices behind the broker, and are answered."""

import re

from .shop import PartsShop


async def say(shop: PartsShop, text: str, language: str = "en") -> str:
    """Say a sentence; return Home Assistant's answer. A refusal fails the test."""
    response = await shop.client.converse(text, language)
    speech: str = response["speech"]["plain"]["speech"]
    assert response["response_type"] != "error", f"{text}: {speech}"
    return speech


async def test_home_assistant_obeys(shop: PartsShop) -> None:
    devices = shop.devices
    await say(shop, "turn on the floor sweep")
    await shop.until(lambda: devices.collector_on, "air at the floor sweep")
    assert devices.sweep_gate_on
    # It only repeats its last command: until its travel time is over it doesn't count as open, and no
    # other gate may close while the impeller turns.
    await shop.client.states.until_state("cover.floor_sweep_gate", "open")

    await say(shop, "open the planer gate")
    await shop.until(lambda: devices.gates["planer_gate"] == "open", "an open gate")
    await say(shop, "close the planer gate")
    await shop.until(lambda: devices.gates["planer_gate"] == "closed", "a shut gate")

    await say(shop, "turn off the dust collector")
    await shop.until(lambda: not devices.collector_on, "the end of the air")


async def test_home_assistant_answers(shop: PartsShop) -> None:
    devices, states = shop.devices, shop.client.states
    reported = await say(shop, "is anything wrong in the shop")
    assert reported == "Everything is fine."
    devices.run("planer")
    await states.until_state("binary_sensor.planer_collecting", "on")
    assert "Planer" in await say(shop, "who has air")
    assert "The collector ran for" in await say(
        shop, "how long did the collector run today"
    )
    devices.rest("planer")
    await shop.until_resting()

    empty = await say(shop, "is the bin full")
    devices.fill_bin()
    await states.until_state(shop.own("problem"), "on")
    full = await say(shop, "is the bin full")
    assert "full" in full
    assert full != empty
    assert "bin" in await say(shop, "is anything wrong in the shop")
    devices.fill_bin(full=False)
    # Its alarm may stay active: one that came back again and again does, for a minute.
    await states.until_state("binary_sensor.bin_level", "off")


async def test_the_air_is_cleared_by_voice(shop: PartsShop) -> None:
    devices = shop.devices
    answer = await say(shop, "clear the air in the shop for 1 minute")
    assert "1 minute" in answer
    await shop.until(lambda: devices.collector_on, "air")


async def test_home_assistant_listens_in_other_languages(shop: PartsShop) -> None:
    """By assistants in German and French, in an English Home Assistant."""
    devices = shop.devices
    answer = await say(shop, "Saug bitte eine Minute lang die Luft ab", "de")
    assert re.fullmatch(r"Es wird 1 Minute lang über .+ abgesaugt\.", answer)
    await shop.until(lambda: devices.collector_on, "air")
    # It collects once the impeller is up to speed.
    await shop.client.states.until_state("binary_sensor.floor_sweep_collecting", "on")
    assert "Abgesaugt wird an" in await say(shop, "Wer hat Luft?", "de-CH")
    assert "Aspiration active" in await say(shop, "Qui a de l'air ?", "fr")
    # Home Assistant's own French sentence ends it.
    await say(shop, "éteins Dust collector", "fr")
    await shop.until(lambda: not devices.collector_on, "the end of the air")
    answer = await say(
        shop, "Combien de temps l'aspirateur a-t-il tourné aujourd'hui ?", "fr"
    )
    assert answer.startswith("Le dépoussiéreur a tourné ")
