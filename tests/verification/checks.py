"""Checks of computed numbers against a source, recorded so that a table can list them.

What a source is decides how much a check says: only a number that is not this project's own is a
check against the outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

__all__ = [
    "RECORD",
    "TRENDS",
    "Check",
    "Kind",
    "Source",
    "Trend",
    "check",
    "identity",
    "other_route",
    "outside",
    "transcription",
    "trend",
]


class Kind(Enum):
    """What an expected value is, and how a reader is told."""

    OUTSIDE = (
        "Against the outside",
        "The expected value is not this project's: printed, a published formula, another library.",
    )
    OTHER_ROUTE = (
        "Another route of our own",
        "The same quantity computed in another way, by this project or for it.",
    )
    IDENTITY = (
        "Identities",
        "Two results of this project that must agree, whatever the motor; no outside number.",
    )
    TRANSCRIPTION = (
        "Transcriptions",
        "A printed table has arrived in the program's own; says nothing about the field.",
    )


@dataclass(frozen=True)
class Source:
    """Where an expected value comes from."""

    words: str
    kind: Kind


def outside(words: str) -> Source:
    """Return a source that is not this project's."""
    return Source(words, Kind.OUTSIDE)


def other_route(words: str) -> Source:
    """Return a source that this project computed in another way."""
    return Source(words, Kind.OTHER_ROUTE)


def identity(words: str) -> Source:
    """Return a law by which two results of this project must agree."""
    return Source(words, Kind.IDENTITY)


def transcription(words: str) -> Source:
    """Return a printed table that the program's own is copied from."""
    return Source(words, Kind.TRANSCRIPTION)


@dataclass(frozen=True)
class Check:
    """One number of this project beside the same number from a source.

    Parameters
    ----------
    what : str
        Quantity with its unit.
    source : Source
        Where the expected value comes from.
    expected, got : float
        The source's value and this project's.
    tolerance : float
        Largest difference that passes.
    relative : bool
        True if difference and tolerance are shares of the expected value, False if they have
        the quantity's unit.
    """

    what: str
    source: Source
    expected: float
    got: float
    tolerance: float
    relative: bool = True

    @property
    def difference(self) -> float:
        """Got less expected, as a share of the expected value if the check is relative."""
        difference = self.got - self.expected
        return difference / abs(self.expected) if self.relative else difference

    @property
    def passed(self) -> bool:
        """Whether the difference is within the tolerance (never for a NaN)."""
        return abs(self.difference) <= self.tolerance


RECORD: list[Check] = []
"""Every check made so far, in order."""


def check(
    what: str,
    source: Source,
    expected: float,
    got: float,
    tolerance: float,
    relative: bool = True,
) -> Check:
    """Record a check and assert that it passes; see :class:`Check` for the parameters."""
    done = Check(what, source, float(expected), float(got), float(tolerance), relative)
    RECORD.append(done)
    kind = "relative" if relative else "absolute"
    assert done.passed, (
        f"{what}: expected {done.expected:.9g} ({source.words}), got {done.got:.9g}, "
        f"{kind} difference {done.difference:+.3e}, tolerance {tolerance:.1e}"
    )
    return done


@dataclass(frozen=True)
class Trend:
    """A fact of the trade: one number is to another as practice says, at most so large a share."""

    what: str
    share: float
    most: float

    @property
    def passed(self) -> bool:
        """Whether the share lies between 0 and the most."""
        return 0 < self.share < self.most


TRENDS: list[Trend] = []
"""Every trend checked so far, in order."""


def trend(what: str, small: float, large: float, most: float = 1.0) -> Trend:
    """Record a trend, that ``small`` is less than ``most`` times ``large``, and assert it."""
    done = Trend(what, float(small / large), most)
    TRENDS.append(done)
    assert done.passed, f"{what}: {done.share:.4g}, less than {most:g} expected"
    return done
