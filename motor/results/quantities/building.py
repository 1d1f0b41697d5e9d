"""Figures that a study adds where it asks for them: off centre, and putting together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.quantity import Quantity
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.results.assembly import Assembly
    from motor.results.centring import Centring

__all__ = ["ASSEMBLY", "CENTRING"]

NOTHING = Estimate(0.0, 0.0)


def _stiffest(found: Centring) -> Estimate:
    stiffness = (part.stiffness for part in found.parts)
    return max(stiffness, key=lambda s: s.value, default=NOTHING)


def _which(found: Centring) -> str:
    part = max(found.parts, key=lambda p: p.stiffness.value, default=None)
    return "none" if part is None else " and ".join(part.moving).replace("_", " ")


def _peak(found: Assembly) -> Estimate:
    peak = found.peak[0]
    return Estimate(abs(peak.value), peak.uncertainty)


def _passed(found: Assembly) -> Estimate | None:
    if found.holding is None:
        return None
    return found.passed or NOTHING


CENTRING: tuple[Quantity[Centring], ...] = (
    Quantity(
        name="radial_stiffness",
        unit="N_per_mm",
        words="largest radial pull per offset",
        read=_stiffest,
        uncertain=True,
        criterion="of what can slide at a joint; outwards positive, a negative stiffness; 0 where "
        "every joint centres by a cylinder",
        better="less",
        offered=4,
        kind="stiffness",
    ),
    Quantity(
        name="radial_stiffness_of",
        words="what pulls most off centre",
        read=_which,
    ),
)
ASSEMBLY: tuple[Quantity[Assembly], ...] = (
    Quantity(
        name="assembly_peak",
        unit="N",
        words="largest force while put together",
        read=_peak,
        uncertain=True,
        criterion="of either sign, at 20 degC, all magnets magnetised",
        better="less",
        offered=4,
        kind="force",
    ),
    Quantity(
        name="assembly_peak_distance",
        unit="mm",
        words="distance of that force from the seat",
        read=lambda a: a.peak[1],
    ),
    Quantity(
        name="assembly_energy",
        unit="J",
        words="energy while put together",
        read=lambda a: a.energy,
        uncertain=True,
        criterion="what fixture or fingers take up from the farthest distance on",
        better="less",
        offered=4,
    ),
    Quantity(
        name="holding_distance",
        unit="mm",
        words="distance within which the holding force is passed",
        read=_passed,
        uncertain=True,
        criterion="from the seat; 0 where it is passed nowhere",
        better="less",
        offered=4,
        kind="length",
    ),
)
