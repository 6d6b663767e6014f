"""What moves before a machine is known to run: somebody arrives, or a reading is certain."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
import pytest

from custom_components.gatewright.const import DOMAIN

from .flow_helpers import TEXTS
from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    standard_parts,
    system_entry,
)

HERE = "binary_sensor.bench_presence"


def parts(**saw: Any) -> list[Any]:
    """Return the standard parts, with more details of the saw."""
    changed = standard_parts()
    changed[3]["data"] = {**changed[3]["data"], **saw}
    return changed


async def test_who_comes_to_work_finds_the_gate_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(HERE, "off")
    await workshop.start(system_entry(parts(foretold=HERE)))
    workshop.put(HERE, "on")
    await workshop.pass_time(1.5)
    assert workshop.sent() == []
    await workshop.pass_time(1)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    await workshop.pass_time(60, 5)
    assert workshop.sent() == []
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    workshop.watts(SAW_POWER, 3)
    workshop.put(HERE, "off")
    await workshop.pass_time(30, 1)
    assert ("close_cover", SAW_GATE) in workshop.sent()


async def test_who_stays_and_does_not_work_has_it_closed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(HERE, "on")
    await workshop.load(system_entry(parts(foretold=HERE)))
    await workshop.pass_time(60, 1)
    assert ("open_cover", SAW_GATE) in workshop.sent()
    await workshop.pass_time(29 * 60 + 5, 10)
    assert workshop.sent() == [("close_cover", SAW_GATE)]


@pytest.mark.parametrize("said", ["unavailable", "unknown", "somewhere"])
async def test_what_says_nothing_of_anybody_opens_nothing(
    hass: HomeAssistant, workshop: Workshop, said: str
) -> None:
    workshop.put(HERE, said)
    await workshop.start(system_entry(parts(foretold=HERE)))
    await workshop.pass_time(5)
    assert workshop.sent() == []


async def test_nobody_is_expected_while_a_machine_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(HERE, "off")
    await workshop.start(system_entry(parts(foretold=HERE)))
    workshop.watts(PLANER_POWER, 1400)
    await workshop.pass_time(10)
    workshop.sent()
    workshop.put(HERE, "on")
    await workshop.pass_time(10)
    assert workshop.sent() == []


async def test_a_sensor_that_is_gone_is_missed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(parts(foretold="0123456789abcdef0123456789abcdef"))
    await workshop.start(entry)
    registry = ir.async_get(hass)
    [issue] = [
        issue for (domain, _), issue in registry.issues.items() if domain == DOMAIN
    ]
    assert issue.translation_key == "missing_foretold"
    text = TEXTS["issues"]["missing_foretold"]
    assert text["description"].format_map(issue.translation_placeholders or {})
    change_part(hass, entry, "saw", without=("foretold",))
    await hass.async_block_till_done()
    assert not [key for key in registry.issues if key[0] == DOMAIN]


async def test_a_certain_reading_counts_at_once(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts(certain_level=1000.0)))
    workshop.watts(SAW_POWER, 400)
    await workshop.settle()
    assert workshop.state("binary_sensor.table_saw_running") == "off"
    workshop.watts(SAW_POWER, 1000)
    await workshop.settle()
    assert workshop.state("binary_sensor.table_saw_running") == "on"
