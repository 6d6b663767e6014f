"""Stand-in for the sound cleaner that Home Assistant's voice pipeline imports.

The real one has no ready-made build for Home Assistant's Python, and without the import
the web page never loads. This one returns the sound unchanged. It's for the demo and
the tests; a real Home Assistant has the real one.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ProcessedAudio:
    """Sound after processing."""

    audio: bytes


class AudioProcessor:
    """A sound cleaner that changes nothing."""

    def __init__(self, auto_gain: float, noise_suppression: int) -> None:
        """Accept the real one's settings, without effect."""

    def Process10ms(self, audio: bytes) -> ProcessedAudio:  # noqa: N802 - the real one's name
        """Return 10 ms of sound unchanged."""
        return ProcessedAudio(audio)
