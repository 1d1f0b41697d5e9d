"""The one error that bad input raises, with the field, the limit and the value received."""

from __future__ import annotations

from geometries.words import one_line

__all__ = ["InvalidInput", "UnknownKey", "millimetres"]

START, END = 240, 80
"""Letters of a long value that are shown."""


class InvalidInput(ValueError):
    """Input that cannot be used.

    The message always reads "<field> must <limit>; received <value>".

    Parameters
    ----------
    field : str
        Name of the offending field, as the user wrote it.
    must : str
        The limit, phrased to follow "must", e.g. "be greater than 0 mm".
    received : object
        What was found instead.
    where : str
        Section of the design file, e.g. "geometry"; empty when not known.
    """

    def __init__(self, field: str, must: str, received: object, where: str = "") -> None:
        self.field = field
        self.must = must
        self.received = received
        self.where = where
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """Return the message as one sentence on one line; what was received is shortened."""
        place = f"[{self.where}] " if self.where else ""
        head = one_line(f"{place}{shortened(self.field)} must {self.must}")
        return f"{head}; received {shortened(self.received)}"

    def within(self, where: str) -> InvalidInput:
        """Return the same error with the section of the design file named."""
        return type(self)(self.field, self.must, self.received, self.where or where)


class UnknownKey(InvalidInput):
    """A key that nothing reads; the message names those that are near."""

    def sentence(self) -> str:
        """Return the message as one sentence on one line."""
        place = f"[{self.where}] " if self.where else ""
        return one_line(f"{place}unknown key {shortened(self.field)} ({self.must})")


def shortened(value: object) -> str:
    """Return what was received as text of a line; the middle of a long one is left out."""
    try:
        text = one_line(str(value))
    except ValueError:  # a whole number of thousands of digits
        text = "a number of thousands of digits"
    if len(text) <= START + END:
        return text
    return f"{text[:START]} ... {text[-END:]}"


def millimetres(length: float) -> str:
    """Return a length in metres as text in millimetres, e.g. 0.0012 -> '1.2 mm'."""
    return f"{length * 1e3:.6g} mm"
