"""The units that people read, in those that the core counts in."""

from typing import Final

HOUR: Final = 3600.0
"""s"""

DAY: Final = 24.0 * HOUR
"""s"""

JOULES_PER_KWH: Final = 3.6e6
"""J"""
