"""Motor with the magnet inside the coil: disc or ring magnet in a cup, under a pole plate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

from geometries.checks import check_smaller
from geometries.contract import Geometry, length, needs
from geometries.errors import InvalidInput, millimetres
from geometries.outlines import chamfer, rectangle
from geometries.regions import AXIAL_DOWN, AXIAL_UP, Gap, Point, Region, Role
from geometries.rings import Ring, ring_regions
from geometries.roles import Roles

__all__ = ["InsideMagnet"]


@dataclass(frozen=True, kw_only=True)
class InsideMagnet(Geometry, kind="inside-magnet"):
    """Disc or ring magnet inside the coil, on the floor of a cup, with a pole plate on top.

    ::

        axis
        |  second magnet (option, opposing)
        |..............+
        +--------------+  gap  +------+
        |  pole plate  |<----->| lip  |     z = 0 in the middle of the gap depth
        +------------+-+       +--+   |
        |            |            |   |
        |   magnet   |            |cup|
        |            |            |   |
        +------------+------------+   |
        |           floor             |
        +-----------------------------+     -> r

    The magnet is magnetised upwards, the second one downwards.  Options are off at 0.  Without
    a lip step the cup's wall is straight and the gap is as deep as the pole plate.
    """

    title = "magnet inside the coil"
    roles = Roles(
        outer=("cup_outer_diameter",),
        height="magnet_thickness",
        follows={
            "magnet_outer_diameter": "pole_plate_diameter",
            "cup_outer_diameter": "cup_inner_diameter",
        },
        flux_plates=("floor_thickness",),
        magnet="N42",
    )

    magnet_outer_diameter: float = length("outer diameter of the magnet")
    magnet_thickness: float = length("thickness of the magnet")
    pole_plate_diameter: float = length("diameter of the pole plate, the inside of the gap")
    pole_plate_thickness: float = length("thickness of the pole plate")
    cup_inner_diameter: float = length("inner diameter of the cup below its lip")
    cup_outer_diameter: float = length("outer diameter of the cup")
    floor_thickness: float = length("thickness of the cup's floor")

    magnet_bore_diameter: float = length("bore of the magnet, 0 for a disc", default=0.0, zero=True)
    lip_step: float = length(
        "radial step by which the lip stands in from the cup's wall", default=0.0, zero=True
    )
    lip_height: float = length(
        "axial height of that lip (absent: as tall as the pole plate)", optional=True
    )
    cup_rise: float = length(
        "height of the cup's edge above the pole plate", default=0.0, zero=True
    )
    vent_diameter: float = length(
        "bore through floor, pole plate and magnets, 0 for none", default=0.0, zero=True
    )
    second_magnet_thickness: float = length(
        "thickness of an opposing magnet on the pole plate, 0 for none", default=0.0, zero=True
    )
    second_magnet_diameter: float = length(
        "its outer diameter (absent: that of the first magnet)", optional=True
    )
    pole_plate_chamfer: float = length(
        "chamfer on the pole plate's upper edge", default=0.0, zero=True
    )
    cup_chamfer: float = length("chamfer on the cup's lower outer edge", default=0.0, zero=True)
    lip_chamfer: float = length("chamfer on the lip's upper inner edge", default=0.0, zero=True)
    rings: tuple[Ring, ...] = ()

    @property
    def _lip(self) -> float:
        height: float | None = self.lip_height
        return self.pole_plate_thickness if height is None else height

    @property
    def _overlap(self) -> tuple[float, float]:
        """Lower and upper end of the gap above the pole plate's lower face, in metres."""
        edge = self.pole_plate_thickness + self.cup_rise
        low = edge - self._lip if self.lip_step > 0 else 0.0
        return max(low, 0.0), min(edge, self.pole_plate_thickness)

    @property
    def _plate_bottom(self) -> float:
        low, high = self._overlap
        return -(low + high) / 2

    @property
    def gap(self) -> Gap:
        """The air gap between pole plate and cup."""
        low, high = self._overlap
        half = (high - low) / 2
        outer = self.cup_inner_diameter / 2 - self.lip_step
        return Gap(self.pole_plate_diameter / 2, outer, -half, half)

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""
        lip = self.cup_inner_diameter - 2 * self.lip_step
        check_smaller(self, "pole_plate_diameter", lip, "the diameter inside the lip")
        check_smaller(self, "cup_inner_diameter", self.cup_outer_diameter, "cup_outer_diameter")
        check_smaller(
            self, "magnet_bore_diameter", self.magnet_outer_diameter, "magnet_outer_diameter"
        )
        check_smaller(self, "vent_diameter", self.pole_plate_diameter, "pole_plate_diameter")
        if self.vent_diameter > self.magnet_bore_diameter:
            raise InvalidInput(
                "vent_diameter",
                f"be at most magnet_bore_diameter, {millimetres(self.magnet_bore_diameter)}",
                millimetres(self.vent_diameter),
            )
        needs(self, "lip_height", "lip_step")
        needs(self, "second_magnet_diameter", "second_magnet_thickness")
        low, high = self._overlap
        if not high > low:
            raise InvalidInput(
                "cup_rise",
                f"leave the lip beside the pole plate, below {millimetres(self._lip)}",
                millimetres(self.cup_rise),
            )
        depth = self.magnet_thickness + self.pole_plate_thickness + self.cup_rise
        if self.lip_step > 0 and not self._lip < depth:
            raise InvalidInput(
                "lip_height",
                f"end above the cup's floor, below {millimetres(depth)}",
                millimetres(self._lip),
            )

    def regions(self) -> tuple[Region, ...]:
        """Return cup, magnet, pole plate, the second magnet if there is one, and any rings."""
        bottom = self._plate_bottom
        top = bottom + self.pole_plate_thickness
        bore, vent = self.magnet_bore_diameter / 2, self.vent_diameter / 2
        magnet = rectangle(
            bore, self.magnet_outer_diameter / 2, bottom - self.magnet_thickness, bottom
        )
        edge = self.pole_plate_diameter / 2
        plate = chamfer(
            rectangle(vent, edge, bottom, top),
            (edge, top),
            self.pole_plate_chamfer,
            "pole_plate_chamfer",
        )
        regions = [
            Region("cup", Role.STEEL, tuple(self._cup())),
            Region("magnet", Role.MAGNET, tuple(magnet), magnetisation=AXIAL_UP),
            Region("pole_plate", Role.STEEL, tuple(plate)),
        ]
        if self.second_magnet_thickness > 0:
            wanted: float | None = self.second_magnet_diameter
            outer = (self.magnet_outer_diameter if wanted is None else wanted) / 2
            if not outer > bore:
                raise InvalidInput(
                    "second_magnet_diameter",
                    f"be greater than magnet_bore_diameter, {millimetres(2 * bore)}",
                    millimetres(2 * outer),
                )
            second = rectangle(bore, outer, top, top + self.second_magnet_thickness)
            regions.append(
                Region("second_magnet", Role.MAGNET, tuple(second), magnetisation=AXIAL_DOWN)
            )
        return (*regions, *ring_regions(self.rings))

    def _cup(self) -> list[Point]:
        vent, wall, rim = (
            self.vent_diameter / 2,
            self.cup_inner_diameter / 2,
            self.cup_outer_diameter / 2,
        )
        floor = self._plate_bottom - self.magnet_thickness
        under = floor - self.floor_thickness
        edge = self._plate_bottom + self.pole_plate_thickness + self.cup_rise
        lip = wall - self.lip_step
        points: list[Point] = [(vent, under), (rim, under), (rim, edge), (lip, edge)]
        if self.lip_step > 0:
            points += [(lip, edge - self._lip), (wall, edge - self._lip)]
        points += [(wall, floor), (vent, floor)]
        points = chamfer(points, (rim, under), self.cup_chamfer, "cup_chamfer")
        return chamfer(points, (lip, edge), self.lip_chamfer, "lip_chamfer")

    @classmethod
    def with_gap(
        cls, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return pole plate and cup, the lip's step kept."""
        return {
            "pole_plate_diameter": 2 * inner_radius,
            "cup_inner_diameter": 2 * (outer_radius + length("lip_step")),
        }

    @classmethod
    def example(cls) -> Self:
        """Return an invented neodymium motor for a 32 mm coil."""
        return cls(
            magnet_outer_diameter=29.0e-3,
            magnet_thickness=6.0e-3,
            pole_plate_diameter=31.0e-3,
            pole_plate_thickness=5.0e-3,
            cup_inner_diameter=36.2e-3,
            cup_outer_diameter=46.0e-3,
            floor_thickness=5.0e-3,
            lip_step=1.5e-3,
        )
