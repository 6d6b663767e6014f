"""The room's air cleaner: on until the room is clean, or its air was changed."""

import json

import pytest

from custom_components.gatewright.core.maintenance.config import RoomConfig
from custom_components.gatewright.core.maintenance.room_cleaner import RoomCleaner

# 60 m3 at 0.2 m3/s: five minutes for one change.
BY_CHANGES = RoomConfig(volume=60.0, flow=0.2, changes=3.0)
BY_READING = RoomConfig(changes=None, clean_below=0.05, settle=60.0, longest=7200.0)
BY_BOTH = RoomConfig(volume=60.0, flow=0.2, changes=3.0, clean_below=0.05, settle=60.0)


def worked(plan: RoomConfig, reading: float | None = None) -> RoomCleaner:
    """Return a cleaner in a room with work from 0 to 1000."""
    cleaner = RoomCleaner(plan)
    cleaner.advance(0.0, working=True)
    assert cleaner.wanted
    assert cleaner.due_after(0.0) is None
    cleaner.read(reading, 900.0)
    cleaner.advance(1000.0, working=False)
    return cleaner


def wanted_at(cleaner: RoomCleaner, now: float) -> bool:
    cleaner.advance(now, working=False)
    return cleaner.wanted


def test_off_until_somebody_works() -> None:
    cleaner = RoomCleaner(BY_CHANGES)
    assert not wanted_at(cleaner, 0.0)
    assert cleaner.due_after(0.0) is None


def test_three_changes_of_air() -> None:
    cleaner = worked(BY_CHANGES)
    assert cleaner.lasts == 900.0
    assert cleaner.due_after(1000.0) == 1900.0
    assert wanted_at(cleaner, 1899.0)
    assert not wanted_at(cleaner, 1900.0)
    assert cleaner.due_after(1900.0) is None


def test_work_in_between_begins_it_anew() -> None:
    cleaner = worked(BY_CHANGES)
    cleaner.advance(1800.0, working=True)
    cleaner.advance(1850.0, working=False)
    assert cleaner.due_after(1850.0) == 2750.0


def test_until_the_room_is_clean_for_a_while() -> None:
    cleaner = worked(BY_READING, 0.4)
    assert cleaner.lasts is None
    cleaner.read(0.04, 1500.0)
    assert cleaner.due_after(1500.0) == 1560.0
    cleaner.read(0.06, 1540.0)
    assert wanted_at(cleaner, 1560.0)
    cleaner.read(0.03, 1700.0)
    cleaner.read(0.02, 1730.0)
    assert wanted_at(cleaner, 1759.0)
    assert not wanted_at(cleaner, 1760.0)


def test_room_that_was_clean_throughout_is_given_a_moment() -> None:
    cleaner = worked(BY_READING, 0.01)
    assert wanted_at(cleaner, 1059.0)
    assert not wanted_at(cleaner, 1060.0)


@pytest.mark.parametrize("reading", [None, 5.0])
def test_sensor_that_never_says_clean_does_not_keep_it_on_forever(
    reading: float | None,
) -> None:
    cleaner = worked(BY_READING, reading)
    assert cleaner.due_after(1000.0) == 8200.0
    assert wanted_at(cleaner, 8199.0)
    assert not wanted_at(cleaner, 8200.0)


def test_whichever_comes_first() -> None:
    clean = worked(BY_BOTH, 0.4)
    clean.read(0.01, 1100.0)
    assert not wanted_at(clean, 1160.0)
    dirty = worked(BY_BOTH, 0.4)
    assert wanted_at(dirty, 1899.0)
    assert not wanted_at(dirty, 1900.0)


def test_with_neither_it_stops_with_the_work() -> None:
    assert not worked(RoomConfig(changes=None)).wanted


def test_restart_resumes_with_the_time_left() -> None:
    cleaner = worked(BY_CHANGES)
    saved = json.loads(json.dumps(cleaner.save(1600.0)))
    again = RoomCleaner(BY_CHANGES)
    again.restore(saved, 50.0)
    assert wanted_at(again, 349.0)
    assert not wanted_at(again, 350.0)
    again.restore({}, 400.0)
    assert not again.wanted
