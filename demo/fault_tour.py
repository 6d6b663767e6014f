"""What goes wrong in a workshop: each fault with its alarm and its recovery."""

from .play import Play


class FaultTour(Play):
    """The tour."""

    async def play(self) -> None:
        """Play all faults."""
        self.begin()

    async def summary(self) -> None:
        """Print what came of it."""
