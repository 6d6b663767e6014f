"""Every sentence in the manual is understood, in each language, in a shop with its names."""

import re

from homeassistant.components.conversation import async_converse
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import intent
from homeassistant.setup import async_setup_component
import pytest

from tests.manual import pages

from .workshop import (
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    Workshop,
    gate,
    machine,
    system_entry,
)

NAMES = {
    "en": ("Dust collector", "Planer gate", "Saw gate", "Planer", "Floor sweep"),
    "de": (
        "Absauger",
        "Hobelschieber",
        "Hobelmaschine",
        "Tischkreissäge",
        "Bodenabsaugung",
    ),
    "fr": (
        "Aspirateur",
        "Vanne de la raboteuse",
        "Tour",
        "Scie circulaire",
        "Aspiration au sol",
    ),
}
"""The names in the manual's examples: collector, two gates, a machine, a pickup."""

COLUMNS = {"en": ("say", 0), "de": ("German", 0), "fr": ("German", 1)}
"""The heading of a language's table, and its column."""


def phrases(language: str) -> list[str]:
    """Return every sentence of the manual in a language."""
    head, column = COLUMNS[language]
    _, _, rest = pages()["docs/voice.md"].partition(f"\n| {head} |")
    table, _, _ = rest.partition("\n\n")
    rows = [row.strip("| ").split(" | ") for row in table.splitlines()[2:]]
    cells = [re.sub(r" \([^)]*\)", "", row[column]) for row in rows]
    return [said.strip() for cell in cells for said in re.split(r"[,;] ", cell)]


@pytest.mark.parametrize("language", NAMES)
async def test_what_the_manual_says_is_understood(
    hass: HomeAssistant, workshop: Workshop, language: str
) -> None:
    hass.config.language = language
    for component in ("homeassistant", "intent", "conversation"):
        assert await async_setup_component(hass, component, {})
    collector, first, second, saw, sweep = NAMES[language]
    parts = [
        gate("planer_gate", first, actuator=PLANER_GATE),
        gate("saw_gate", second, actuator=SAW_GATE),
        gate("sweep_gate", "3", actuator=SWEEP_GATE),
        machine("saw", saw, gates=["saw_gate"], sensor=SAW_POWER),
        machine("sweep", sweep, kind="floor_sweep", gates=["sweep_gate"]),
    ]
    await workshop.start(system_entry(parts, title=collector))
    said = phrases(language)
    assert len(said) >= 8
    for text in said:
        result = await async_converse(hass, text, None, Context(), language=language)
        await hass.async_block_till_done()
        response = result.response
        assert response.response_type is not intent.IntentResponseType.ERROR, (
            text,
            response.speech,
        )
