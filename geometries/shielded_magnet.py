"""Motor with the magnet outside the coil, an opposing second magnet and a can: low stray field."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import ClassVar, Self

from geometries.contract import length
from geometries.errors import InvalidInput, millimetres
from geometries.outlines import chamfer, rectangle
from geometries.outside_magnet import OutsideMagnet
from geometries.regions import AXIAL_DOWN, Point, Region, Role
from geometries.rings import Ring
from geometries.roles import Roles

__all__ = ["ShieldedMagnet"]


@dataclass(frozen=True, kw_only=True)
class ShieldedMagnet(OutsideMagnet, kind="shielded-magnet"):
    """The motor of :class:`OutsideMagnet` on an opposing second magnet, in a steel can.

    ::

        axis                                 clearance
        |   +------ top plate --+            |<->+-+
        |   |    +--- magnet -----+              | |
        | pole   |       ^        |              | |
        +---+----+----------------+--+           | |
        |         back plate         |           | |  can
        +--------+----------------+--+           | |
                 | second magnet  |              | |
                 |       v        |              | |
        +--------+----------------+--------------+ |
        +------------------------------------------+     -> r

    The second magnet points down and drives the main one's stray flux back.  Without height the
    can is a plate under the second magnet.
    """

    title = "magnet outside the coil, opposing magnet and can"
    roles: ClassVar[Roles] = dataclasses.replace(OutsideMagnet.roles, outer=())

    second_magnet_diameter: float = length("outer diameter of the opposing second magnet")
    second_magnet_bore: float = length("bore of the second magnet")
    second_magnet_thickness: float = length("thickness of the second magnet")
    can_inner_diameter: float = length("inner diameter of the can")
    can_thickness: float = length("thickness of the can's sheet")
    can_height: float = length("height of the can inside, from its floor up")
    can_chamfer: float = length("chamfer on the can's lower outer edge", default=0.0, zero=True)
    rings: tuple[Ring, ...] = ()

    @property
    def _floor(self) -> float:
        """Height of the can's floor inside."""
        under = self._back_plate_top - self.back_plate_thickness
        return under - self.second_magnet_thickness

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""
        super().check()
        if self.back_plate_bump:
            raise InvalidInput(
                "back_plate_bump",
                "be 0 mm where a second magnet lies under the back plate",
                millimetres(self.back_plate_bump),
            )
        if not self.second_magnet_bore < self.second_magnet_diameter:
            raise InvalidInput(
                "second_magnet_bore",
                f"be smaller than second_magnet_diameter, "
                f"{millimetres(self.second_magnet_diameter)}",
                millimetres(self.second_magnet_bore),
            )

    def regions(self) -> tuple[Region, ...]:
        """Return the inner motor, the second magnet and the can."""
        floor = self._floor
        second = rectangle(
            self.second_magnet_bore / 2,
            self.second_magnet_diameter / 2,
            floor,
            floor + self.second_magnet_thickness,
        )
        return (
            *super().regions(),
            Region("second_magnet", Role.MAGNET, tuple(second), magnetisation=AXIAL_DOWN),
            Region("can", Role.STEEL, tuple(self._can())),
        )

    def _can(self) -> list[Point]:
        vent, wall, floor = self.vent_diameter / 2, self.can_inner_diameter / 2, self._floor
        rim, under = wall + self.can_thickness, floor - self.can_thickness
        edge = floor + self.can_height
        points = [(vent, under), (rim, under), (rim, edge), (wall, edge), (wall, floor)]
        points += [(vent, floor)]
        return chamfer(points, (rim, under), self.can_chamfer, "can_chamfer")

    @classmethod
    def example(cls) -> Self:
        """Return an invented ferrite motor for a 25 mm coil."""
        return cls(
            pole_diameter=24.5e-3,
            gap_width=1.45e-3,
            gap_depth=5.0e-3,
            top_plate_outer_diameter=66.0e-3,
            top_plate_thickness=5.0e-3,
            magnet_inner_diameter=36.0e-3,
            magnet_outer_diameter=72.0e-3,
            magnet_thickness=15.0e-3,
            back_plate_diameter=66.0e-3,
            back_plate_thickness=5.0e-3,
            pole_extension=2.0e-3,
            second_magnet_diameter=72.0e-3,
            second_magnet_bore=36.0e-3,
            second_magnet_thickness=10.0e-3,
            can_inner_diameter=80.0e-3,
            can_thickness=1.2e-3,
            can_height=36.0e-3,
        )
