"""Motor with the magnet outside the coil: ring magnet between a T-yoke and a top plate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

from geometries.contract import Geometry, choice, length, needs
from geometries.errors import InvalidInput, millimetres
from geometries.outlines import chamfer, rectangle
from geometries.regions import AXIAL_UP, Gap, Point, Region, Role
from geometries.rings import Ring, ring_regions
from geometries.roles import Roles

__all__ = ["OutsideMagnet"]


@dataclass(frozen=True, kw_only=True)
class OutsideMagnet(Geometry, kind="outside-magnet"):
    r"""Ring magnet outside the coil, between a back plate with pole (T-yoke) and a top plate.

    ::

        axis
        |      pole extension
        |----+ <-----------------
        |    |  gap   +--------------+
        |    |<------>|  top plate   |      z = 0 in the middle of the gap depth
        |    |        +----+---------+
        |    |             |            |
        |    |             |   magnet   |
        |pole|             |            |
        |    +-------------+---------+--+
        |        back plate          |
        +----------------------------+      -> r

    The magnet is magnetised axially.  Options are off at 0.  An undercut down to the back plate
    makes the pole a T; a cap's outside is the pole's diameter, and the pole below it is turned
    down by the cap's thickness.

    ::

        undercut     dish         bump            step      chamfer (lip)   foot       cap
        |    | gap   |    |       |    |          +------   +------         |   |      ++++++
        |   +'       |    | +---  |    +----+--   |         |               |   \      |   |+
        |   |        |    +-+     +-+       |     +-+        +--.           |    \     |   |+
        |   +.       |            | |  drop       gap|       gap|           |     +--  |    |
    """

    title = "magnet outside the coil"
    roles = Roles(
        outer=("top_plate_outer_diameter", "magnet_outer_diameter", "back_plate_diameter"),
        height="magnet_thickness",
        follows={"magnet_inner_diameter": "pole_diameter"},
        flux_plates=("back_plate_thickness",),
        magnet="Y30",
    )

    pole_diameter: float = length("outer diameter of the pole, the inside of the gap")
    gap_width: float = length("radial width of the gap, from the pole or its cap to the top plate")
    gap_depth: float = length("axial depth of the gap (may be less than the top plate)")
    top_plate_outer_diameter: float = length("outer diameter of the top plate")
    top_plate_thickness: float = length("thickness of the top plate")
    magnet_inner_diameter: float = length("inner diameter of the ring magnet")
    magnet_outer_diameter: float = length("outer diameter of the ring magnet")
    magnet_thickness: float = length("thickness of the ring magnet")
    back_plate_diameter: float = length("outer diameter of the back plate")
    back_plate_thickness: float = length("thickness of the back plate")

    vent_diameter: float = length(
        "bore through pole and back plate, 0 for none", default=0.0, zero=True
    )
    pole_extension: float = length("height of the pole above the top plate", default=0.0, zero=True)
    pole_undercut: float = length(
        "radial depth of the undercut of the pole below the gap", default=0.0, zero=True
    )
    pole_undercut_height: float = length(
        "axial height of that undercut, from the gap's lower edge down", default=0.0, zero=True
    )
    lip_style: str = choice(
        "how the gap's outer face widens to a thicker top plate", ("step", "chamfer")
    )
    lip_step: float = length(
        "radial depth of the step or chamfer beside the gap", default=0.0, zero=True
    )
    lip_position: str = choice(
        "where the gap lies in a thicker top plate", ("middle", "top", "bottom")
    )
    back_plate_dish: float = length(
        "depth of a recess in the back plate around the pole, for coil clearance",
        default=0.0,
        zero=True,
    )
    back_plate_dish_diameter: float = length(
        "outer diameter of that recess", default=0.0, zero=True
    )
    back_plate_bump: float = length(
        "drop of the back plate's underside in the middle (with a dish: a formed plate)",
        default=0.0,
        zero=True,
    )
    back_plate_bump_diameter: float = length("outer diameter of that drop", default=0.0, zero=True)
    pole_foot_diameter: float = length(
        "diameter of a conical pole at its foot, 0 for straight", default=0.0, zero=True
    )
    pole_foot_height: float = length(
        "height of that cone (absent: up to the gap or the undercut)", optional=True
    )
    cap_thickness: float = length(
        "wall of a conducting cap over the turned-down pole, 0 for none", default=0.0, zero=True
    )
    cap_height: float = length(
        "how far that cap reaches down from the pole's upper face", default=0.0, zero=True
    )
    cap_material: str = choice("metal of the cap", ("copper", "aluminium"))
    pole_chamfer: float = length("chamfer on the pole's upper edge", default=0.0, zero=True)
    top_plate_chamfer: float = length(
        "chamfer on the top plate's upper outer edge", default=0.0, zero=True
    )
    back_plate_chamfer: float = length(
        "chamfer on the back plate's lower outer edge", default=0.0, zero=True
    )
    rings: tuple[Ring, ...] = ()

    # heights, all from the middle of the gap

    @property
    def _plate_bottom(self) -> float:
        slack = self.top_plate_thickness - self.gap_depth
        share = {"middle": 0.5, "top": 1.0, "bottom": 0.0}[self.lip_position]
        return -self.gap_depth / 2 - share * slack

    @property
    def _plate_top(self) -> float:
        return self._plate_bottom + self.top_plate_thickness

    @property
    def _back_plate_top(self) -> float:
        return self._plate_bottom - self.magnet_thickness

    @property
    def gap(self) -> Gap:
        """The air gap between pole, without its cap, and top plate."""
        pole, half = self.pole_diameter / 2, self.gap_depth / 2
        return Gap(pole - self.cap_thickness, pole + self.gap_width, -half, half)

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""
        self._check_top_plate()
        self._check_pole()
        self._check_cap()
        self._check_back_plate()
        if not self.magnet_outer_diameter > self.magnet_inner_diameter:
            raise InvalidInput(
                "magnet_outer_diameter",
                f"be greater than magnet_inner_diameter, {millimetres(self.magnet_inner_diameter)}",
                millimetres(self.magnet_outer_diameter),
            )

    def _check_top_plate(self) -> None:
        thickness, depth = self.top_plate_thickness, self.gap_depth
        if depth > thickness:
            raise InvalidInput(
                "gap_depth",
                f"be at most top_plate_thickness, {millimetres(thickness)}",
                millimetres(depth),
            )
        if depth < thickness and self.lip_step == 0:
            raise InvalidInput(
                "lip_step",
                f"be greater than 0 mm where gap_depth ({millimetres(depth)}) is less than "
                f"top_plate_thickness ({millimetres(thickness)})",
                millimetres(self.lip_step),
            )
        if depth == thickness and self.lip_step > 0:
            raise InvalidInput(
                "lip_step",
                "be 0 mm where gap_depth equals top_plate_thickness",
                millimetres(self.lip_step),
            )
        bore = 2 * (self.gap.outer_radius + self.lip_step)
        if not self.top_plate_outer_diameter > bore:
            raise InvalidInput(
                "top_plate_outer_diameter",
                f"be greater than the plate's bore, {millimetres(bore)}",
                millimetres(self.top_plate_outer_diameter),
            )

    def _check_pole(self) -> None:
        neck = self.pole_diameter - 2 * self.pole_undercut
        if not self.vent_diameter < neck:
            raise InvalidInput(
                "vent_diameter",
                f"be smaller than the pole at its narrowest, {millimetres(neck)}",
                millimetres(self.vent_diameter),
            )
        if (self.pole_undercut > 0) != (self.pole_undercut_height > 0):
            raise InvalidInput(
                "pole_undercut_height",
                "be greater than 0 mm exactly when pole_undercut is",
                f"{millimetres(self.pole_undercut_height)} with an undercut of "
                f"{millimetres(self.pole_undercut)}",
            )
        room = -self.gap_depth / 2 - (self._back_plate_top - self.back_plate_dish)
        if self.pole_undercut_height > room:
            raise InvalidInput(
                "pole_undercut_height",
                f"end above the back plate, within {millimetres(room)}",
                millimetres(self.pole_undercut_height),
            )

        foot = self.pole_foot_diameter
        if foot and not foot > neck:
            raise InvalidInput(
                "pole_foot_diameter",
                f"be greater than the pole above it, {millimetres(neck)}",
                millimetres(foot),
            )
        needs(self, "pole_foot_height", "pole_foot_diameter")
        if foot and not 0 < self._foot_height <= room - self.pole_undercut_height:
            raise InvalidInput(
                "pole_foot_height",
                "end below gap and undercut, within "
                f"{millimetres(room - self.pole_undercut_height)}",
                millimetres(self._foot_height),
            )

    @property
    def _foot_height(self) -> float:
        height: float | None = self.pole_foot_height
        room = self.gap.bottom - (self._back_plate_top - self.back_plate_dish)
        return room - self.pole_undercut_height if height is None else height

    def _check_cap(self) -> None:
        if self.cap_thickness == 0:
            needs(self, "cap_height", "cap_thickness")
            return
        least = self._plate_top + self.pole_extension - self.gap.bottom
        low = self._plate_top + self.pole_extension - (self._back_plate_top - self.back_plate_dish)
        if not least <= self.cap_height < low:
            raise InvalidInput(
                "cap_height",
                f"reach from the pole's upper face through the gap, {millimetres(least)} or more, "
                f"and end above the back plate, within {millimetres(low)}",
                millimetres(self.cap_height),
            )
        for name in ("pole_undercut", "pole_chamfer", "pole_foot_diameter"):
            if getattr(self, name):
                raise InvalidInput(
                    name, "be 0 mm where the pole has a cap", millimetres(getattr(self, name))
                )
        inside = self.pole_diameter - 2 * self.cap_thickness
        if not self.vent_diameter < inside:
            raise InvalidInput(
                "cap_thickness",
                f"leave some of the pole around its bore of {millimetres(self.vent_diameter)}",
                millimetres(self.cap_thickness),
            )

    def _check_back_plate(self) -> None:
        for depth, diameter in (
            ("back_plate_dish", "back_plate_dish_diameter"),
            ("back_plate_bump", "back_plate_bump_diameter"),
        ):
            if getattr(self, depth) == 0:
                needs(self, diameter, depth)
                continue
            low, high = self.pole_diameter, self.back_plate_diameter
            if not low < getattr(self, diameter) < high:
                raise InvalidInput(
                    diameter,
                    f"lie between pole_diameter, {millimetres(low)}, and back_plate_diameter, "
                    f"{millimetres(high)}",
                    millimetres(getattr(self, diameter)),
                )
        if self.back_plate_dish >= self.back_plate_thickness + self.back_plate_bump:
            raise InvalidInput(
                "back_plate_dish",
                f"leave some of the back plate's "
                f"{millimetres(self.back_plate_thickness + self.back_plate_bump)}",
                millimetres(self.back_plate_dish),
            )
        if not self.back_plate_diameter > self.pole_diameter:
            raise InvalidInput(
                "back_plate_diameter",
                f"be greater than pole_diameter, {millimetres(self.pole_diameter)}",
                millimetres(self.back_plate_diameter),
            )

    def regions(self) -> tuple[Region, ...]:
        """Return yoke, magnet, top plate and any rings."""
        magnet = rectangle(
            self.magnet_inner_diameter / 2,
            self.magnet_outer_diameter / 2,
            self._back_plate_top,
            self._plate_bottom,
        )
        return (
            Region("yoke", Role.STEEL, tuple(self._yoke())),
            Region("magnet", Role.MAGNET, tuple(magnet), magnetisation=AXIAL_UP),
            Region("top_plate", Role.STEEL, tuple(self._top_plate())),
            *self._cap(),
            *ring_regions(self.rings),
        )

    def _cap(self) -> tuple[Region, ...]:
        if self.cap_thickness == 0:
            return ()
        vent, pole, wall = self.vent_diameter / 2, self.pole_diameter / 2, self.cap_thickness
        top = self._plate_top + self.pole_extension
        low = top - self.cap_height
        outline = [(pole - wall, low), (pole, low), (pole, top + wall), (vent, top + wall)]
        outline += [(vent, top), (pole - wall, top)]
        return (Region("pole_cap", Role.CONDUCTOR, tuple(outline), material=self.cap_material),)

    def _yoke(self) -> list[Point]:
        vent, pole, rim = (
            self.vent_diameter / 2,
            self.pole_diameter / 2,
            self.back_plate_diameter / 2,
        )
        face = self._back_plate_top
        under = face - self.back_plate_thickness
        floor = face - self.back_plate_dish
        top = self._plate_top + self.pole_extension
        points: list[Point] = [(vent, under - self.back_plate_bump)]
        if self.back_plate_bump > 0:
            bump = self.back_plate_bump_diameter / 2
            points += [(bump, under - self.back_plate_bump), (bump, under)]
        points += [(rim, under), (rim, face)]
        if self.back_plate_dish > 0:
            dish = self.back_plate_dish_diameter / 2
            points += [(dish, face), (dish, floor)]
        points += [(self.pole_foot_diameter / 2 or pole, floor)]
        if self.cap_thickness > 0:
            inside, low = pole - self.cap_thickness, top - self.cap_height
            points += [(pole, low), (inside, low)]
            pole = inside
        joined = self.pole_foot_diameter > 0 and self.pole_foot_height is None
        if self.pole_foot_diameter > 0 and not (joined and self.pole_undercut > 0):
            points += [(pole, floor + self._foot_height)]
        if self.pole_undercut > 0:
            edge = -self.gap_depth / 2
            neck = pole - self.pole_undercut
            low = edge - self.pole_undercut_height
            points += [] if joined else [(pole, low)]
            points += [(neck, low), (neck, edge), (pole, edge)]
        points += [(pole, top), (vent, top)]
        points = chamfer(points, (rim, under), self.back_plate_chamfer, "back_plate_chamfer")
        return chamfer(points, (pole, top), self.pole_chamfer, "pole_chamfer")

    def _top_plate(self) -> list[Point]:
        edge, rim = self.gap.outer_radius, self.top_plate_outer_diameter / 2
        bottom, top = self._plate_bottom, self._plate_top
        low, high = self.gap.bottom, self.gap.top
        bore = edge + self.lip_step
        points: list[Point] = [(bore if bottom < low else edge, bottom), (rim, bottom), (rim, top)]
        points += [(bore if top > high else edge, top)]
        if top > high:
            points += [(bore, high)] if self.lip_style == "step" else []
            points += [(edge, high)]
        if bottom < low:
            points += [(edge, low)]
            points += [(bore, low)] if self.lip_style == "step" else []
        return chamfer(points, (rim, top), self.top_plate_chamfer, "top_plate_chamfer")

    @classmethod
    def with_gap(
        cls, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return pole and gap width."""
        pole = inner_radius + length("cap_thickness")
        return {"pole_diameter": 2 * pole, "gap_width": outer_radius - pole}

    @classmethod
    def example(cls) -> Self:
        """Return an invented ferrite ring motor for a 32 mm coil."""
        return cls(
            pole_diameter=31.0e-3,
            gap_width=1.6e-3,
            gap_depth=6.0e-3,
            top_plate_outer_diameter=84.0e-3,
            top_plate_thickness=6.0e-3,
            magnet_inner_diameter=44.0e-3,
            magnet_outer_diameter=90.0e-3,
            magnet_thickness=15.0e-3,
            back_plate_diameter=84.0e-3,
            back_plate_thickness=6.0e-3,
            pole_extension=3.0e-3,
        )
