"""One motor and one winding whose sizes are known by hand, for tests that compute with them."""

from __future__ import annotations

import dataclasses
from typing import Any

from geometries import Point, Ring
from geometries.outlines import rectangle
from motor import starter
from motor.design.coil import Coil
from motor.design.design import Design
from motor.design.wire import Wire

MM = 1e-3


def box(inner: float, outer: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the outline in metres of a rectangle given in millimetres."""
    return tuple(rectangle(inner * MM, outer * MM, low * MM, high * MM))


def drawn_coil(**changes: Any) -> Coil:
    """Return two layers of 40 turns of 0.3 mm wire on a former 31.6 mm wide and 0.1 mm thick."""
    values: dict[str, Any] = {
        "inner_diameter": 31.6 * MM,
        "winding_height": 12 * MM,
        "layers": 2,
        "wire": Wire(bare_diameter=0.25 * MM, overall_diameter=0.3 * MM),
        "former_thickness": 0.1 * MM,
    }
    return Coil(**values | changes)


def drawn_design(**changes: Any) -> Design:
    """Return the outside-magnet starter with a tall former and a shading ring above the coil.

    Pole 31 mm, gap 1.6 mm wide and from -3 to 3 mm high, back plate at -18 mm.  The winding
    goes from -5 to 7 mm with its middle at 1 mm, at radii of 15.9 to 16.5 mm; the former's foot
    lies at -9 mm.  The ring's cover reaches in to 16.2 mm radius at 15 mm height.
    """
    ring = Ring(
        name="hood",
        inner_diameter=40 * MM,
        outer_diameter=44 * MM,
        bottom=3 * MM,
        height=12 * MM,
        cover=1 * MM,
        cover_inner_diameter=32.4 * MM,
    )
    base = starter("outside-magnet")
    geometry = dataclasses.replace(base.geometry, rings=(ring,))
    own: dict[str, Any] = {"former_below": 4 * MM, "travel_margin": 0.7 * MM}
    return base.replace(geometry=geometry, coil=drawn_coil(rest_position=1 * MM, **own | changes))
