"""Stand-in for the sound cleaner that Home Assistant's voice pipeline imports.

No ready-made build of the real one exists for the Python that Home Assistant needs,
and without the import the web page never loads. This one hands the sound back as it
came. It is for the demo and the tests; a real hub has the real one.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ProcessedAudio:
    """Sound after processing."""

    audio: bytes


class AudioProcessor:
    """A sound cleaner that changes nothing."""

    def __init__(self, auto_gain: float, noise_suppression: int) -> None:
        """Accept the settings of the real one; none has an effect."""

    def Process10ms(self, audio: bytes) -> ProcessedAudio:  # noqa: N802 - the real one's name
        """Return 10 ms of sound unchanged."""
        return ProcessedAudio(audio)
