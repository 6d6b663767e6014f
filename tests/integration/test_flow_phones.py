"""The page about phones: what it offers, rejects and stores."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from .flow_helpers import Form, Hub, system, without_engine


@pytest.fixture
def phone(hass: HomeAssistant) -> str:
    """Return the stored data of a phone, in a Home Assistant that has it."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector")
    return hub.add("notify.pocket", "Pocket", "unknown", device="Pocket")


async def test_nothing_is_stored_for_what_is_usual(
    hass: HomeAssistant, phone: str
) -> None:
    entry = system(hass)
    with without_engine(hass):
        form = await Form(hass, entry).change("phones")
        assert form.values["phone_topics"] == ["alarms", "bin", "summary"]
        assert form.values["phone_summary_at"] == "18:00:00"
        assert form.values["phone_buttons"] is True
        assert form.values["phone_critical"] is False
        await form.send()
    assert not [key for key in entry.data if key.startswith("phone")]


async def test_phones_are_stored_so_that_a_new_name_is_survived(
    hass: HomeAssistant, phone: str
) -> None:
    entry = system(hass)
    with without_engine(hass):
        form = await Form(hass, entry).change("phones")
        await form.send(
            phones=["notify.pocket"],
            phone_topics=["bin", "alarms"],
            phone_summary_at="17:30:00",
            phone_critical=True,
            phone_buttons=False,
        )
        assert entry.data["phones"] == [phone]
        assert entry.data["phone_topics"] == ["alarms", "bin"]
        assert entry.data["phone_summary_at"] == "17:30:00"
        assert entry.data["phone_critical"] is True
        assert entry.data["phone_buttons"] is False
        er.async_get(hass).async_update_entity(
            "notify.pocket", new_entity_id="notify.coat"
        )
        hass.states.async_remove("notify.pocket")
        form = await Form(hass, entry).change("phones")
        assert form.values["phones"] == ["notify.coat"]
        # Kept, although it isn't available now.
        await form.send(phone_topics=[])
        assert entry.data["phones"] == [phone]
        assert entry.data["phone_topics"] == []
        form = await Form(hass, entry).change("phones")
        await form.send(phones=None, phone_topics=["alarms", "bin", "summary"])
    assert "phones" not in entry.data
    assert "phone_topics" not in entry.data


async def test_what_is_no_phone_and_no_time_is_refused(
    hass: HomeAssistant, phone: str
) -> None:
    entry = system(hass)
    with without_engine(hass):
        form = await Form(hass, entry).change("phones")
        await form.send(
            phones=["notify.pocket", "switch.collector"], phone_summary_at="24:00"
        )
        assert form.errors == {"phones": "no_phone", "phone_summary_at": "no_time"}
        await form.send(phones=["notify.nowhere"], phone_summary_at="12:00")
        assert form.errors == {"phones": "no_phone"}
        await form.send(phones=["notify.pocket"], phone_summary_at=None)
        assert form.errors == {}
    assert entry.data["phones"] == [phone]
