"""Errors of the airflow calculation."""


class AirflowError(ValueError):
    """A shop, a part of one or a question about one that makes no sense.

    `code` is a stable word that a caller can translate, `element` the id of the
    duct, pickup or gate concerned (empty when it is none of them). The text is
    plain English for logs and tests.
    """

    def __init__(self, code: str, message: str, *, element: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.element = element


def require(holds: bool, code: str, message: str, *, element: str = "") -> None:
    """Raise `AirflowError` unless the condition holds."""
    if not holds:
        raise AirflowError(code, message, element=element)
