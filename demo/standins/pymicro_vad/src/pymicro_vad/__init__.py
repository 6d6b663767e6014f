"""Stand-in for the voice activity detector that Home Assistant's voice pipeline imports.

The real one has no ready-made build for Home Assistant's Python, and without the import
the web page never loads. This one detects nobody. It's for the demo and the tests; a
real Home Assistant has the real one.
"""


class MicroVad:
    """A voice activity detector that detects nobody."""

    def Process10ms(self, audio: bytes) -> float:  # noqa: N802 - the real one's name
        """Return the probability of speech in 10 ms of sound: always 0.0."""
        return 0.0
