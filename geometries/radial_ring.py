"""Motor with a radially magnetised ring, around the coil or inside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

from geometries.contract import Geometry, choice, length
from geometries.errors import InvalidInput, millimetres
from geometries.outlines import chamfer, rectangle
from geometries.regions import RADIAL_IN, RADIAL_OUT, Gap, Point, Region, Role
from geometries.rings import Ring, ring_regions
from geometries.roles import Roles

__all__ = ["RadialRing"]


@dataclass(frozen=True, kw_only=True)
class RadialRing(Geometry, kind="radial-ring"):
    """Radially magnetised ring in a yoke of pole, floor and wall; no plates.

    ::

        axis          ring around the coil        ring inside the coil
        |  +------+ gap +----+------+             +--+----+ gap +------+
        |  |      |<--->|ring| wall |             |  |ring|<--->| wall |   z = 0 in the
        |  |      |     |    |      |             |  |    |     |      |   middle of the ring
        |  | pole |     +----+      |             |  +----+     |      |
        |  |      |          |      |  depth      |pole|        |      |
        |  |      +----------+      |             |    +--------+      |
        |  |         floor          |             |       floor        |
        |  +------------------------+             +--------------------+   -> r

    The gap is as deep as the ring is tall.  Options are off at 0.
    """

    title = "radially magnetised ring"
    roles = Roles(
        outer=("yoke_outer_diameter",),
        height="floor_depth",
        follows={"yoke_outer_diameter": "gap_inner_diameter"},
        flux_plates=("floor_thickness",),
        magnet="N42",
    )

    gap_inner_diameter: float = length("inside of the gap: of the pole, or of the ring outside")
    gap_width: float = length("radial width of the gap, between ring and steel")
    ring_wall: float = length("radial thickness of the ring")
    ring_height: float = length("axial height of the ring, the depth of the gap")
    yoke_outer_diameter: float = length("outer diameter of the yoke")
    floor_depth: float = length("from the ring's lower edge down to the floor")
    floor_thickness: float = length("thickness of the floor")

    ring_place: str = choice("where the ring stands to the coil", ("around", "inside"))
    vent_diameter: float = length("bore through the pole, 0 for none", default=0.0, zero=True)
    pole_extension: float = length("height of the pole above the ring", default=0.0, zero=True)
    yoke_chamfer: float = length("chamfer on the yoke's lower outer edge", default=0.0, zero=True)
    rings: tuple[Ring, ...] = ()

    @property
    def gap(self) -> Gap:
        """The air between ring and steel."""
        inner, half = self.gap_inner_diameter / 2, self.ring_height / 2
        return Gap(inner, inner + self.gap_width, -half, half)

    @property
    def _pole(self) -> float:
        inside = self.ring_place == "inside"
        return self.gap.inner_radius - (self.ring_wall if inside else 0.0)

    @property
    def _wall(self) -> float:
        """Inner radius of the yoke's wall."""
        around = self.ring_place == "around"
        return self.gap.outer_radius + (self.ring_wall if around else 0.0)

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""
        if not self.yoke_outer_diameter > 2 * self._wall:
            raise InvalidInput(
                "yoke_outer_diameter",
                f"be greater than the wall's inner diameter, {millimetres(2 * self._wall)}",
                millimetres(self.yoke_outer_diameter),
            )
        if not self.vent_diameter < 2 * self._pole:
            raise InvalidInput(
                "vent_diameter",
                f"be smaller than the pole, {millimetres(2 * self._pole)}",
                millimetres(self.vent_diameter),
            )

    def regions(self) -> tuple[Region, ...]:
        """Return yoke, ring magnet and any conducting rings."""
        gap = self.gap
        around = self.ring_place == "around"
        inner, outer = (gap.outer_radius, self._wall) if around else (self._pole, gap.inner_radius)
        magnet = rectangle(inner, outer, gap.bottom, gap.top)
        return (
            Region("yoke", Role.STEEL, tuple(self._yoke())),
            Region(
                "ring_magnet",
                Role.MAGNET,
                tuple(magnet),
                magnetisation=RADIAL_IN if around else RADIAL_OUT,
            ),
            *ring_regions(self.rings),
        )

    def _yoke(self) -> list[Point]:
        vent, rim = self.vent_diameter / 2, self.yoke_outer_diameter / 2
        pole, wall, top = self._pole, self._wall, self.gap.top
        floor = self.gap.bottom - self.floor_depth
        under, tip = floor - self.floor_thickness, top + self.pole_extension
        points = [(vent, under), (rim, under), (rim, top), (wall, top), (wall, floor)]
        points += [(pole, floor), (pole, tip), (vent, tip)]
        return chamfer(points, (rim, under), self.yoke_chamfer, "yoke_chamfer")

    @classmethod
    def with_gap(
        cls, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return the inside of the gap and its width."""
        return {"gap_inner_diameter": 2 * inner_radius, "gap_width": outer_radius - inner_radius}

    @classmethod
    def example(cls) -> Self:
        """Return an invented neodymium motor for a 25 mm coil."""
        return cls(
            gap_inner_diameter=24.4e-3,
            gap_width=1.3e-3,
            ring_wall=4.0e-3,
            ring_height=6.0e-3,
            yoke_outer_diameter=43.0e-3,
            floor_depth=8.0e-3,
            floor_thickness=4.0e-3,
        )
