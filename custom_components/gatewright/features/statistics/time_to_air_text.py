"""The sentences about a machine's time to air."""

from collections.abc import Mapping

from ...core.statistics.time_to_air import TimeToAir, TimeToAirLimit
from ...texts.texts import Texts

TIME_TO_AIR = "time_to_air"
"""The list of texts, and the entity's translation key."""


def time_to_air_text(
    texts: Texts, timing: TimeToAir | None, gates: Mapping[str, str]
) -> str:
    """Return a machine's time to air, its limit and improvements, in sentences.

    `gates` are the gates' names by their ids.
    """
    if timing is None:
        return texts(TIME_TO_AIR, "none")
    chain = timing.chain
    limit = timing.judged.limit
    figures = {
        "expected": chain.expected,
        "at_best": chain.at_best,
        "confirmation": chain.confirmation,
        "stroke": chain.stroke,
        "spin_up": chain.spin_up,
        "delay": chain.start_delay,
        "off_time": chain.off_time,
        "saves": timing.judged.saves,
    }
    values = {key: texts.seconds(figure) for key, figure in figures.items()}
    if chain.gate_id is not None:
        values["gate"] = gates.get(chain.gate_id, chain.gate_id)
    sentences = ["expected"]
    if timing.usual is not None:
        sentences = ["usual"]
        values["usual"] = texts.seconds(timing.usual)
    if chain.reporting is not None:
        values["interval"] = texts.seconds(chain.reporting)
        if limit is not TimeToAirLimit.REPORTING:
            sentences.append("interval")
    sentences.append(f"limit_{limit.value}")
    return " ".join(texts(TIME_TO_AIR, sentence, **values) for sentence in sentences)
