"""What people read of what the core counts."""

import pytest

from custom_components.gatewright.core.units import percent


@pytest.mark.parametrize(
    ("share", "read"),
    [(1.0, 100.0), (0.9996, 99.9), (0.57, 57.0), (0.29, 29.0), (0.0004, 0.0)],
)
def test_a_share_looks_whole_only_where_it_is(share: float, read: float) -> None:
    assert percent(share) == read


def test_a_share_that_is_not_known_is_none() -> None:
    assert percent(None) is None
