"""Exact factors from the units of American handbooks to SI.

Only the published equations and tables that are written in those units need
them; everything else here is in m, m3/s, Pa, W, s, kg/m3 and degrees Celsius.
"""

from typing import Final

INCH: Final = 0.0254
"""Metres in an inch."""

FOOT: Final = 0.3048
"""Metres in a foot."""

FPM: Final = FOOT / 60.0
"""m/s in a foot per minute."""

CFM: Final = FOOT**3 / 60.0
"""m3/s in a cubic foot per minute."""

INCH_WATER: Final = 249.08891
"""Pa in an inch of water gauge (water at 4 degrees Celsius)."""
