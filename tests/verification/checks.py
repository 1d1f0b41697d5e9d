"""Checks of computed numbers against a source, recorded so that a table can list them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["RECORD", "Check", "check"]


@dataclass(frozen=True)
class Check:
    """One number of this project beside the same number from a source.

    Parameters
    ----------
    what : str
        Quantity with its unit.
    source : str
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
    source: str
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
    source: str,
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
        f"{what}: expected {done.expected:.9g} ({source}), got {done.got:.9g}, "
        f"{kind} difference {done.difference:+.3e}, tolerance {tolerance:.1e}"
    )
    return done
