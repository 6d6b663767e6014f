"""A list of listeners."""

from collections.abc import Callable
import logging
from typing import Any

from homeassistant.core import CALLBACK_TYPE, callback

_LOGGER = logging.getLogger(__name__)


class _Stop:
    """Takes a listener out again.

    One object for each of many thousand, where a `partial` of a method would be four
    that every collection of garbage has to look at.
    """

    __slots__ = ("_all", "_listener")

    def __init__(self, listeners: list[Any], listener: object) -> None:
        self._all = listeners
        self._listener = listener

    def __call__(self) -> None:
        self._all.remove(self._listener)


class Listeners[**P]:
    """Functions that are called in the order in which they were added."""

    def __init__(self, complaint: str) -> None:
        """Start empty; `complaint` is logged when a listener fails."""
        self._complaint = complaint
        self._all: list[Callable[P, None]] = []

    @callback
    def add(self, listener: Callable[P, None]) -> CALLBACK_TYPE:
        """Call `listener` from now on; return a function that removes it."""
        self._all.append(listener)
        return _Stop(self._all, listener)

    @callback
    def call(self, *args: P.args, **kwargs: P.kwargs) -> None:
        """Call all listeners; one may be removed meanwhile."""
        for listener in tuple(self._all):
            try:
                listener(*args, **kwargs)
            except Exception:
                # A failing listener must stop neither the others nor the shop.
                _LOGGER.exception(self._complaint)
