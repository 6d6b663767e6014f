"""A machine's time to air in words."""

from collections.abc import Mapping

from ..shop.record.time_to_air import Limit, TimeToAir
from ..wording import Wording

TIME_TO_AIR = "time_to_air"
"""The list of texts, and the name of the entity."""


def in_words(words: Wording, told: TimeToAir | None, gates: Mapping[str, str]) -> str:
    """Return a machine's time to air, what limits it and what would help, in sentences.

    `gates` are the gates' names by their ids.
    """
    if told is None:
        return words(TIME_TO_AIR, "none")
    chain = told.chain
    limit = told.judged.limit
    figures = {
        "expected": chain.expected,
        "at_best": chain.at_best,
        "confirmation": chain.confirmation,
        "stroke": chain.stroke,
        "spin_up": chain.spin_up,
        "delay": chain.start_delay,
        "off_time": chain.off_time,
        "saves": told.judged.saves,
    }
    values = {key: seconds(words, figure) for key, figure in figures.items()}
    if chain.gate_id is not None:
        values["gate"] = gates.get(chain.gate_id, chain.gate_id)
    sentences = ["expected"]
    if told.usual is not None:
        sentences = ["usual"]
        values["usual"] = seconds(words, told.usual)
    if chain.reporting is not None:
        values["interval"] = seconds(words, chain.reporting)
        if limit is not Limit.REPORTING:
            sentences.append("interval")
    sentences.append(f"limit_{limit.value}")
    return " ".join(words(TIME_TO_AIR, sentence, **values) for sentence in sentences)


def seconds(words: Wording, time: float) -> str:
    """Return a time in s to a tenth, as the language writes it."""
    return f"{words.decimal(f'{time:.1f}')} s"
