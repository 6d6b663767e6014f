"""Stand-in for the voice activity detector that Home Assistant's voice pipeline imports.

No ready-made build of the real one exists for the Python that Home Assistant needs,
and without the import the web page never loads. This one hears nobody. It is for the
demo and the tests; a real hub has the real one.
"""


class MicroVad:
    """A voice activity detector that hears nobody."""

    def Process10ms(self, audio: bytes) -> float:  # noqa: N802 - the real one's name
        """Return the probability of speech in 10 ms of sound: always 0.0."""
        return 0.0
