"""Texts with gaps, and times as a person says them."""

from custom_components.gatewright.text.figures import duration
from custom_components.gatewright.text.placeholders import fill


def test_a_time_is_said_in_its_largest_units() -> None:
    assert [duration(s) for s in (0.4, 59.4, 59.6, 3569.0, 3570.0, 7260.0)] == [
        *("0 s", "59 s", "1 min", "59 min", "1 h", "2 h 1 min")
    ]


def test_what_is_put_in_is_not_filled_again() -> None:
    values = {"name": "{seconds}", "seconds": "3"}
    assert fill("{name} took {seconds} s", values) == "{seconds} took 3 s"


def test_a_gap_without_a_value_stays() -> None:
    assert fill("{name} of {system}", {"name": "Saw"}) == "Saw of {system}"
