"""Which limits the usable linear stroke has to respect."""

from __future__ import annotations

from dataclasses import dataclass, field

from geometries import InvalidInput, millimetres
from motor.design.characteristic import Characteristic

__all__ = ["StrokeRules"]

LIMITS = ("bl_82", "bl_70", "overhang", "mechanical", "compliance", "inductance")
ASKED = ("bl_82", "mechanical")
"""Limits that the usable stroke respects unless a design names others."""
KNOWN_FROM = {"compliance": "stiffness", "inductance": "inductance"}
"""Limits that need a table or polynomial over displacement, and of what."""


@dataclass(frozen=True, kw_only=True)
class StrokeRules:
    """Which limits the usable linear stroke has to respect.

    Parameters
    ----------
    limits : tuple of str
        From "bl_82" and "bl_70" (Bl falls to that per cent of its rest value), "overhang"
        (the gap stays filled, or the winding within it), "mechanical", and, where stiffness or
        inductance are known over displacement, "compliance" (falls to 75 %) and "inductance"
        (changes by 10 %).
    band : float or None
        Displacement to either side, metres, over which deviation and asymmetry of Bl(x) are read.
    """

    limits: tuple[str, ...] = field(
        default=ASKED, metadata={"doc": "limits that the usable stroke respects"}
    )

    band: float | None = field(
        default=None, metadata={"doc": "to either side, where deviation of Bl(x) is read"}
    )

    def __post_init__(self) -> None:
        if self.band is not None and not self.band > 0:
            raise InvalidInput("band", "be greater than 0", millimetres(self.band))
        for limit in self.limits:
            if limit not in LIMITS:
                raise InvalidInput("limits", f"name only {', '.join(LIMITS)}", repr(limit))
        if not self.limits:
            raise InvalidInput("limits", f"name at least one of {', '.join(LIMITS)}", "none")

    def check(self, parts: object) -> None:
        """Raise InvalidInput for a limit that needs what the moving parts (or None) do not tell."""
        for limit, of in KNOWN_FROM.items():
            if limit in self.limits and not isinstance(getattr(parts, of, None), Characteristic):
                raise InvalidInput(
                    "limits",
                    f"name {limit} only where moving_parts.{of} is known over displacement",
                    repr(limit),
                    "stroke",
                )
