"""What lies around a warm driver: each way's coefficient at given temperatures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from motor.design.design import Design
from motor.field.convection import (
    air_at,
    horizontal_cylinder,
    horizontal_plate,
    radiation,
    vertical_plate,
)
from motor.materials.thermal import thermal_named

__all__ = ["BAND", "WAYS", "Surroundings"]

BASKET_COEFFICIENT = 10.0
"""W/(m^2 K) from the basket, convection and radiation (common practice, no source)."""
BASKET_SHARE, BASKET_EFFICIENCY = 1.2, 0.7
"""The basket's both sides over the radiating area, and what counts of them: a fin of 1 mm steel,
6 cm long, is at 0.69 of its root's rise (tanh(m L)/(m L), any handbook); the share: common
practice, no source."""
PRESSED = 5000.0
"""W/(m^2 K) across bare joints of machined metal (2000 to 10 000, handbooks, from memory)."""
GAP_EMISSIVITY = 0.5
"""Of winding and steel together, facing each other."""
BAND = {
    "gap": 1.2,
    "convection": 1.3,
    "emissivity": 1.6,
    "moved air": 2.0,
    "basket": 2.0,
    "joints": 2.0,
    "conductivity": 1.3,
    "eddy currents": 1.3,
}
"""By what factor each of the model's assumptions may be wrong either way.  The gap: a coil is never
centred, its former is not smooth.  Convection: what correlations are worth for compact bodies in a
cavity.  Eddy currents: the spread of reversible permeabilities.  The rest: no source is closer."""


WAYS = {
    "coil_to_motor": ("air", "fluid", "radiation"),
    "motor_to_air": ("side", "front", "back", "bore", "basket"),
    "coil_to_air": ("open", "cone"),
}
"""The ways of two bodies, coil and motor, and of what they consist."""


@dataclass(frozen=True)
class Surroundings:
    """Air, basket, bonds: all that heat passes on its way out of a design's bodies.

    Parameters
    ----------
    design : Design
    ambient : float
        K.
    emissivity : mapping of kind to float
        Of "side", "front" and "back".
    sizes : mapping of kind to float
        Lengths that correlations ask for, m: "diameter", "height".
    scales : mapping of name to float
        Factors on assumptions, see BAND, and on WAYS; 1 where absent.
    """

    design: Design
    ambient: float
    emissivity: Mapping[str, float]
    sizes: Mapping[str, float]
    scales: Mapping[str, float] = field(default_factory=dict)

    def coefficients(self, near: Mapping[str, float], far: Mapping[str, float]) -> dict[str, float]:
        """Return each way's coefficient at mean rises over ambient on its two sides, K."""
        rules, scale = self.design.heat, self.scales
        moved = scale.get("moved air", 1.0)
        joint = scale.get("joints", 1.0)
        found = {kind: self._to_air(kind, near[kind]) for kind in ("side", "front", "back")}
        found["bore"] = rules.vent_coefficient * moved
        found["open"] = rules.air_coefficient * moved
        found["cone"] = self._former_fin() * math.sqrt(moved)
        found["basket"] = self._basket() * scale.get("basket", 1.0)
        film = self.ambient + max((near["air"] + far["air"]) / 2, -50.0)
        film = min(film, 3000.0)
        gap = scale.get("gap", 1.0)
        found["air"] = air_at(film).conductivity * gap
        found["fluid"] = thermal_named("ferrofluid").conductivity * gap
        shine = min(GAP_EMISSIVITY * scale.get("emissivity", 1.0), 1.0)
        found["radiation"] = radiation(shine, film, film)
        glue = thermal_named("adhesive").conductivity / max(rules.joint_thickness, 1e-9)
        found["glue"] = joint / (1 / glue + 1 / PRESSED)
        found["press"] = joint * PRESSED
        for way, kinds in WAYS.items():
            for kind in kinds:
                found[kind] *= scale.get(way, 1.0)
        return found

    def _to_air(self, kind: str, rise: float) -> float:
        """Return convection and radiation of an outer surface, W/(m^2 K)."""
        rise = min(max(abs(rise), 0.05), 3000.0)
        surface = self.ambient + rise
        air = air_at(self.ambient + rise / 2)
        upright = self.design.heat.axis == "vertical"
        width, height = self.sizes["diameter"], self.sizes["height"]
        if kind == "side":
            length = height if upright else width
            number = air.rayleigh(rise, length)
            law = vertical_plate if upright else horizontal_cylinder
            nusselt = law(air.prandtl, number)
        elif upright:
            length = width / 4
            nusselt = horizontal_plate(air.rayleigh(rise, length), warm_above=kind == "front")
        else:
            length = width
            nusselt = vertical_plate(air.prandtl, air.rayleigh(rise, length))
        convection = nusselt * air.conductivity / length * self.scales.get("convection", 1.0)
        shine = min(self.emissivity[kind] * self.scales.get("emissivity", 1.0), 1.0)
        return convection + radiation(shine, surface, self.ambient)

    def _former_fin(self) -> float:
        """Return the conductance in W/K up a long former, a fin with air on both sides."""
        coil, rules = self.design.coil, self.design.heat
        if coil.former_thickness == 0:
            return 0.0
        k = thermal_named(coil.former_material or "polyimide").conductivity
        around = math.pi * (coil.inner_diameter + coil.former_thickness)
        return around * math.sqrt(2 * rules.air_coefficient * k * coil.former_thickness)

    def _basket(self) -> float:
        """Return the basket's conductance to the air in W/K."""
        parts = self.design.moving_parts
        if self.design.heat.basket is not None:
            return 1 / self.design.heat.basket
        area = (parts.area if parts else None) or 0.0
        return BASKET_COEFFICIENT * BASKET_SHARE * BASKET_EFFICIENCY * area
