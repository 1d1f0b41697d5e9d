"""Motor with two gaps for a split coil: a magnet between two pole plates inside a steel shell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Self

from geometries.checks import check_smaller
from geometries.contract import Geometry, length
from geometries.outlines import chamfer, rectangle
from geometries.regions import AXIAL_UP, Gap, Region, Role
from geometries.rings import Ring, ring_regions
from geometries.roles import Roles

__all__ = ["TwoGap"]


@dataclass(frozen=True, kw_only=True)
class TwoGap(Geometry, kind="two-gap"):
    """Disc or ring magnet between two pole plates; a steel shell around them closes both gaps.

    ::

        axis                      +----+  shell rise
        +-------------------+ gap |    |
        |  upper pole plate |<--->|    |     z = 0 in the middle of the upper gap
        +-----------------+-+     |    |
        |                 |       |    |
        |     magnet      |       |    |     the flux crosses the upper gap outwards
        |                 |       |    |     and the lower one inwards: the coil's parts
        +-----------------+-+     |    |     are wound in opposite senses
        |  lower pole plate |<--->|    |
        +-------------------+     |    |
                                  +----+     -> r

    The shell is held by parts that carry no flux and are not drawn.  The magnet is magnetised
    upwards.  Options are off at 0.
    """

    title = "two gaps, split coil"
    roles = Roles(
        outer=("shell_outer_diameter",),
        height="magnet_thickness",
        follows={
            "magnet_outer_diameter": "pole_plate_diameter",
            "shell_outer_diameter": "shell_inner_diameter",
        },
        flux_plates=("pole_plate_thickness",),
        magnet="N42",
    )
    joined: ClassVar[bool] = False

    pole_plate_diameter: float = length("diameter of both pole plates, the inside of both gaps")
    pole_plate_thickness: float = length("thickness of each pole plate, the depth of each gap")
    magnet_outer_diameter: float = length("outer diameter of the magnet")
    magnet_thickness: float = length("thickness of the magnet")
    shell_inner_diameter: float = length("inner diameter of the shell, the outside of both gaps")
    shell_outer_diameter: float = length("outer diameter of the shell")

    shell_rise: float = length(
        "how far the shell reaches beyond the pole plates, above and below", default=0.0, zero=True
    )
    vent_diameter: float = length(
        "bore through magnet and pole plates, 0 for none", default=0.0, zero=True
    )
    shell_chamfer: float = length("chamfer on the shell's outer edges", default=0.0, zero=True)
    rings: tuple[Ring, ...] = ()

    @property
    def _pitch(self) -> float:
        """Distance of the gaps' middles, metres."""
        return self.pole_plate_thickness + self.magnet_thickness

    @property
    def gap(self) -> Gap:
        """The upper gap, and the lower one as a further one."""
        inner, outer = self.pole_plate_diameter / 2, self.shell_inner_diameter / 2
        half, pitch = self.pole_plate_thickness / 2, self._pitch
        lower = Gap(inner, outer, -pitch - half, -pitch + half)
        return Gap(inner, outer, -half, half, further=(lower,))

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""
        for field, other in (
            ("pole_plate_diameter", "shell_inner_diameter"),
            ("shell_inner_diameter", "shell_outer_diameter"),
            ("magnet_outer_diameter", "shell_inner_diameter"),
            ("vent_diameter", "magnet_outer_diameter"),
            ("vent_diameter", "pole_plate_diameter"),
        ):
            check_smaller(self, field, getattr(self, other), other)

    def regions(self) -> tuple[Region, ...]:
        """Return both pole plates, the magnet between them, the shell, and any rings."""
        half, pitch, bore = self.pole_plate_thickness / 2, self._pitch, self.vent_diameter / 2
        edge = self.pole_plate_diameter / 2
        low, high = -pitch - half - self.shell_rise, half + self.shell_rise
        rim = self.shell_outer_diameter / 2
        shell = rectangle(self.shell_inner_diameter / 2, rim, low, high)
        for height in (low, high):
            shell = chamfer(shell, (rim, height), self.shell_chamfer, "shell_chamfer")
        magnet = rectangle(bore, self.magnet_outer_diameter / 2, half - pitch, -half)
        upper = rectangle(bore, edge, -half, half)
        lower = rectangle(bore, edge, -pitch - half, -pitch + half)
        return (
            Region("shell", Role.STEEL, tuple(shell)),
            Region("magnet", Role.MAGNET, tuple(magnet), magnetisation=AXIAL_UP),
            Region("upper_pole_plate", Role.STEEL, tuple(upper)),
            Region("lower_pole_plate", Role.STEEL, tuple(lower)),
            *ring_regions(self.rings),
        )

    @classmethod
    def with_gap(
        cls, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return pole plates and shell."""
        return {
            "pole_plate_diameter": 2 * inner_radius,
            "shell_inner_diameter": 2 * outer_radius,
        }

    @classmethod
    def example(cls) -> Self:
        """Return an invented neodymium motor for a 38 mm coil in two parts."""
        return cls(
            pole_plate_diameter=37.0e-3,
            pole_plate_thickness=6.0e-3,
            magnet_outer_diameter=36.0e-3,
            magnet_thickness=14.0e-3,
            shell_inner_diameter=40.2e-3,
            shell_outer_diameter=54.0e-3,
            shell_rise=1.0e-3,
        )
