"""The units that people read, in those that the core counts in."""

import math
from typing import Final, overload

HOUR: Final = 3600.0
"""s"""

DAY: Final = 24.0 * HOUR
"""s"""

JOULES_PER_KWH: Final = 3.6e6
"""J"""

_LOST: Final = 1e-9
"""What binary fractions may lose of a share."""


@overload
def percent(share: float) -> float: ...
@overload
def percent(share: None) -> None: ...
def percent(share: float | None) -> float | None:
    """Return a share, 0 to 1, in percent, to a tenth and rounded down.

    None looks whole that is not.
    """
    if share is None:
        return None
    return math.floor((share + _LOST) * 1000) / 10
