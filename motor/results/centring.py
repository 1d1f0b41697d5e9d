"""What an offset from the axis costs: radial pull, an uneven gap, and how far it may go."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geometries import InvalidInput, Role, millimetres
from motor.base.json_numbers import finite
from motor.base.names import near_names
from motor.base.program import origin
from motor.results.approach import spoken
from motor.results.forces import holder_of, motor_forces
from motor.results.off_centre import OffCentre, off_centre

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["LIMITS", "OFFSET", "Centring", "centring"]

OFFSET = 0.1e-3
"""Metres: a usual tolerance of centring (common practice, no source)."""
FLAT = 0.999
"""Share of a joint's area that must be seen along the axis for its parts to slide."""
SMALL = 0.2
"""Offset over gap width beyond which the first order is said to fall short."""
LIMITS = (
    "First order in the offset: Bl itself does not change, in second order it grows by about half "
    "the square of offset over gap width (by hand). Parts that tilt or are not round, unevenly "
    "magnetised magnets, larger offsets, and what the coil's current adds to the pull are for a "
    "three-dimensional model. Coil and former pull at nothing without current."
)


@dataclass(frozen=True)
class Centring:
    """What each joint that can slide does to the motor when it stands off centre.

    Parameters
    ----------
    name : str
    offset : float
        Metres.
    gap_width : float
        Metres.
    clearance : float
        Of the coil, the smaller one, metres.
    parts : tuple of OffCentre
    fixed : tuple of (str, str)
        Joints whose parts centre each other by a cylinder.
    """

    name: str
    offset: float
    gap_width: float
    clearance: float
    parts: tuple[OffCentre, ...]
    fixed: tuple[tuple[str, str], ...]

    @property
    def notes(self) -> list[str]:
        """What the offset makes doubtful."""
        found = []
        opens = any(part.widths for part in self.parts)
        share = self.offset / self.gap_width
        if opens and share > SMALL:
            by_hand = (1 - share**2) ** -1.5 if share < 1 else math.inf
            found.append(
                f"the offset is {100 * share:.3g} % of the gap's width: by hand the pull is "
                f"{by_hand:.3g} times that of the first order"
            )
        if opens and self.offset > self.clearance:
            found.append(
                f"the offset is more than the coil's clearance, {millimetres(self.clearance)}"
            )
        return found

    def pull(self, part: OffCentre) -> float:
        """Return the radial pull in newton at the offset."""
        return part.stiffness.value * self.offset

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON."""
        return {
            **origin(),
            "name": self.name,
            "offset_mm": self.offset * 1e3,
            "gap_width_mm": self.gap_width * 1e3,
            "coil_clearance_mm": finite(self.clearance * 1e3),
            "parts": [self._part(part) for part in self.parts],
            "centred_by_a_cylinder": [list(pair) for pair in self.fixed],
            "notes": self.notes,
            "limits": LIMITS,
        }

    def _part(self, part: OffCentre) -> dict[str, Any]:
        spread = part.stiffness.uncertainty
        return {
            "moving": list(part.moving),
            "radial_stiffness_N_per_mm": part.stiffness.value / 1e3,
            "radial_stiffness_uncertainty_N_per_mm": finite(spread / 1e3),
            "by_hand_N_per_mm": None if part.by_hand is None else part.by_hand / 1e3,
            "pull_N": self.pull(part),
            "pull_uncertainty_N": finite(spread * self.offset),
            "gap_width_change_percent": 100 * part.widths * self.offset / self.gap_width,
            "flux_density_change_percent": 100 * part.field_change * self.offset,
        }


def centring(
    result: MotorResult, *, parts: Collection[str] = (), offset: float = OFFSET
) -> Centring:
    """Return what an offset of parts does to a solved motor.

    Parameters
    ----------
    result : MotorResult
    parts : collection of str
        What is moved off the axis together; empty for what lies beyond each joint that can
        slide, seen from the part that holds the motor.
    offset : float
        Metres.

    Raises
    ------
    InvalidInput
        For parts that there are not, that carry no force, that are all of the motor or that
        cannot slide, or an offset not above 0.
    """
    regions, gap = result.design.regions, result.design.geometry.gap
    if not any(r.role is Role.STEEL for r in regions):
        raise InvalidInput("geometry", "have steel that holds the motor", "none")
    if not (math.isfinite(offset) and offset > 0):
        raise InvalidInput("offset", "be greater than 0", offset)
    active = [r.name for r in regions if r.role is not Role.CONDUCTOR]
    for name in parts:
        if name not in active:
            raise InvalidInput("part", f"be a part ({near_names(name, active)})", repr(name))
    if parts and set(active) <= set(parts):
        raise InvalidInput("part", "leave a part that stands", spoken(parts))
    groups: Sequence[Collection[str]] = [tuple(parts)] if parts else []
    fixed = []
    if not parts:
        for joint in motor_forces(result.field, holder_of(regions, gap)).joints:
            beyond = [name for name in joint.outer if name in active]
            if joint.flat < FLAT * joint.area:
                fixed += [joint.between] if {*joint.between} <= {*active} else []
            elif beyond:
                groups = [*groups, tuple(beyond)]
    clearance = result.clearance
    return Centring(
        result.design.name,
        offset,
        gap.width,
        min(clearance.inner, clearance.outer),
        tuple(off_centre(result.field, group, gap) for group in groups),
        tuple(fixed),
    )
