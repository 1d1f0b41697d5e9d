"""A bare rod of steel on a magnet: a coil around its middle is far from every corner of steel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries import AXIAL_UP, Gap, Geometry, Region, Role
from geometries.contract import length
from geometries.outlines import rectangle
from motor.design.coil import Coil
from motor.design.design import Design, Materials
from motor.design.wire import Wire

__all__ = ["RodOnMagnet", "random_rod"]


@dataclass(frozen=True, kw_only=True)
class RodOnMagnet(Geometry, kind="test-rod-on-magnet"):
    """A rod that stands on a disc magnet, nothing around it."""

    title = "rod on a magnet"

    rod_diameter: float = length("diameter of the rod and the magnet")
    rod_length: float = length("length of the rod")
    magnet_thickness: float = length("thickness of the magnet")
    room: float = length("radial room around the rod in which the coil moves")
    span: float = length("height over which the coil is wanted")

    @property
    def gap(self) -> Gap:
        radius = self.rod_diameter / 2
        return Gap(radius, radius + self.room, -self.span / 2, self.span / 2)

    def regions(self) -> tuple[Region, ...]:
        radius, half = self.rod_diameter / 2, self.rod_length / 2
        rod = tuple(rectangle(0.0, radius, -half, half))
        magnet = tuple(rectangle(0.0, radius, -half - self.magnet_thickness, -half))
        return (
            Region("rod", Role.STEEL, rod),
            Region("magnet", Role.MAGNET, magnet, magnetisation=AXIAL_UP),
        )

    @classmethod
    def example(cls) -> RodOnMagnet:
        return cls(
            rod_diameter=20e-3, rod_length=80e-3, magnet_thickness=10e-3, room=4e-3, span=8e-3
        )


def random_rod(rng: np.random.Generator, steel: str) -> Design:
    """Return a random rod of a steel with a coil near its middle."""
    diameter = float(rng.uniform(10e-3, 50e-3))
    room = float(rng.uniform(0.05, 0.4)) * diameter
    span = float(rng.uniform(0.1, 1.0)) * diameter
    overall = float(rng.uniform(0.02, 0.1)) * room
    geometry = RodOnMagnet(
        rod_diameter=diameter,
        rod_length=float(rng.uniform(3, 8)) * diameter,
        magnet_thickness=float(rng.uniform(0.2, 0.6)) * diameter,
        room=room,
        span=span,
    )
    coil = Coil(
        inner_diameter=diameter + float(rng.uniform(0.2, 0.8)) * room,
        winding_height=max(span * float(rng.uniform(0.4, 1.0)), 3 * overall),
        layers=2,
        wire=Wire(bare_diameter=0.88 * overall, overall_diameter=overall),
    )
    return Design(geometry=geometry, materials=Materials(magnet="N42", steel=steel), coil=coil)
