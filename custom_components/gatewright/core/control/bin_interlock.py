"""What a full bin means for the work: told, no further start, or an end after this cut."""

from collections.abc import Iterable

from ..config import WhenBinFull


class BinInterlock:
    """Whether the bin is full, and what may still go on then.

    `barred` says that no machine is served any more. What cut when the bin filled may
    finish its cut; what begins later, also the same machine's next cut, isn't served. A
    person who turns the collector on at the device is not fought.
    """

    def __init__(self) -> None:
        self.full = False
        self.barred = False
        self._finishing: set[str] | None = None

    def refuses_start(self, answer: WhenBinFull) -> bool:
        """Whether the collector must not be started."""
        return self.full and answer is not WhenBinFull.WARN

    def follow(self, answer: WhenBinFull, cutting: Iterable[str]) -> bool:
        """Look at the machines that cut now; return whether that ends everything."""
        before = self.barred
        if not self.full or answer is not WhenBinFull.FINISH:
            self._finishing = None
            self.barred = False
            return False
        if self._finishing is None:
            self._finishing = set(cutting)
        else:
            self._finishing.intersection_update(cutting)
        self.barred = not self._finishing
        return self.barred and not before
