"""Starter designs: a geometry's own example with a coil that fits its gap."""

from __future__ import annotations

from geometries import Gap, Geometry, free_gap, registered
from motor.base.names import pick
from motor.design.coil import Coil
from motor.design.design import Design, Materials, MovingParts
from motor.design.winding_part import WindingPart
from motor.design.wire import Wire

__all__ = ["fitting_coil", "starter", "starter_driver"]

PARTS = MovingParts(mass=10e-3, stiffness=1.2e3, area=130e-4, mechanical_resistance=1.2)
"""Of an invented 165 mm driver."""


def starter(kind: str) -> Design:
    """Return an invented design of a geometry kind, to be edited by the designer."""
    geometry = pick(registered(), kind, "geometry").example()
    return Design(
        geometry=geometry,
        materials=Materials(magnet=geometry.roles.magnet, steel="low-carbon-a"),
        coil=fitting_coil(geometry),
        name=f"starter, {geometry.title}",
        notes="Invented dimensions.",
    )


def starter_driver(kind: str) -> Design:
    """Return the same with invented moving parts, so that the driver's model runs too."""
    return starter(kind).replace(moving_parts=PARTS)


def fitting_coil(geometry: Geometry) -> Coil:
    """Return a coil for a geometry's gap, with a part for each further one.

    It has two layers that fill about a third of the gap's width, a thin former, and is twice as
    tall as the gap is deep, or as the next gap leaves room for.  Parts in one gap after another
    are wound in opposite senses, as a flux demands that crosses them in turn.
    """
    gap = geometry.gap
    inner, outer = free_gap(geometry.regions(), gap)
    width = outer - inner
    former = round(0.06 * width, 5)
    overall = round(0.17 * width, 5)
    wire = Wire(bare_diameter=round(0.88 * overall, 5), overall_diameter=overall)
    slack = width - former - 2 * overall
    return Coil(
        inner_diameter=round(2 * (inner + 0.45 * slack), 4),
        winding_height=_height(gap, gap),
        layers=2,
        wire=wire,
        former_thickness=former,
        parts=tuple(
            WindingPart(
                name=f"gap_{k + 2}",
                place=round(one.middle, 6),
                winding_height=_height(one, gap),
                layers=2,
                sense="same" if k % 2 else "opposite",
            )
            for k, one in enumerate(gap.further)
        ),
    )


def _height(gap: Gap, first: Gap) -> float:
    """Return a winding's height for one of several gaps, metres."""
    apart = [abs(gap.middle - other.middle) for other in first.all if other is not gap]
    return round(min([2 * gap.depth, *(0.8 * way for way in apart)]), 4)
