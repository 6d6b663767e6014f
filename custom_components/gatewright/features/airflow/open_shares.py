"""How far each gate is open, for the airflow."""

from collections.abc import Iterable, Mapping

from ...core.control.gate_states import GateStates
from ...runtime.decoding import CoverPosition


class OpenShares:
    """The open share of each gate; a moving gate keeps its last share."""

    def __init__(self) -> None:
        self._last: dict[str, float] = {}

    def read(
        self,
        wanted: Iterable[str],
        gates: GateStates,
        slides: Mapping[str, CoverPosition],
        now: float,
    ) -> dict[str, float] | None:
        """Return the shares of the gates that aren't closed; None if any is unknown."""
        shares: dict[str, float] = {}
        for gate_id in wanted:
            actuator = gates.actuator(gate_id)
            if actuator is None or not actuator.reachable:
                return None
            is_open = actuator.state_at(now)
            slide = slides.get(gate_id)
            if is_open is not None:
                self._last[gate_id] = float(is_open)
            elif slide is not None and slide.position is not None:
                # Rounded to tenths between the ends: a moving gate reports many
                # positions.
                self._last[gate_id] = round(slide.position / 10) / 10
            if gate_id not in self._last:
                return None
            if share := self._last[gate_id]:
                shares[gate_id] = share
        return shares
