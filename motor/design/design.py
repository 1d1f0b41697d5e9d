"""A design: geometry, materials, coil, temperature and moving parts, in SI."""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass, field
from typing import Any

from geometries import (
    Geometry,
    InvalidInput,
    Region,
    free_gap,
    millimetres,
    polygon,
    radial_room,
    solid_bounds,
    vertical_stops,
)
from geometries.checks import AREA_GRAIN
from geometries.drawing import section_svg
from motor.base.constants import ZERO_CELSIUS
from motor.base.program import stamp
from motor.base.ranges import check_number
from motor.base.user_files import check_text
from motor.design.characteristic import Characteristic, as_characteristic
from motor.design.coil import CHANGES, Coil
from motor.design.enclosure import Amplifier, Box
from motor.design.heat_rules import HeatRules
from motor.design.material_choice import Materials
from motor.design.stroke_rules import StrokeRules
from motor.materials import (
    REFERENCE_TEMPERATURE,
    Magnet,
)

__all__ = ["Clearance", "Design", "Materials", "MovingParts", "Travel"]

COLDEST, HOTTEST = ZERO_CELSIUS - 60, ZERO_CELSIUS + 250
MOVING_RANGES = {
    "mass": (1e-6, 10.0),
    "stiffness": (20.0, 1e6),
    "area": (1e-6, 10.0),
    "mechanical_resistance": (1e-4, 100.0),
    "inductance": (1e-9, 1.0),
}
"""Of moving parts, SI."""


def _check_temperature(name: str, value: object) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(name, "be a number in SI units", repr(value))
    if not (math.isfinite(value) and COLDEST <= value <= HOTTEST):
        raise InvalidInput(
            name,
            f"be between {COLDEST - ZERO_CELSIUS:.0f} and {HOTTEST - ZERO_CELSIUS:.0f} degC",
            f"{value - ZERO_CELSIUS:.4g} degC",
        )


@dataclass(frozen=True, kw_only=True)
class MovingParts:
    """What moves with the coil, and what holds it.

    Parameters
    ----------
    mass : float or None
        Moving mass without the winding (cone, former, surround share, air load), kg.
    stiffness : float, Polynomial or Table
        Stiffness of the suspension, N/m; over displacement in metres if not a number.
    area : float or None
        Effective radiating area, m^2.
    mechanical_resistance : float or None
        Mechanical losses, kg/s.
    inductance : float, Polynomial or Table, or None
        Of the coil in the motor, H; over displacement in metres if not a number.
    total_mass : float or None
        Moving mass with the winding, kg, instead of ``mass``.
    cone_mass, surround_mass, other_mass : float or None
        Parts of the moving mass without the winding, kg, instead of ``mass``.
    """

    mass: float | None = field(
        default=None, metadata={"doc": "moving mass without the winding", "quantity": "mass"}
    )
    stiffness: float | Characteristic = field(
        metadata={"doc": "stiffness of the suspension", "quantity": "stiffness"}
    )
    area: float | None = field(
        default=None, metadata={"doc": "effective radiating area", "quantity": "area"}
    )
    mechanical_resistance: float | None = field(
        default=None, metadata={"doc": "mechanical losses", "quantity": "mechanical_resistance"}
    )
    inductance: float | Characteristic | None = field(
        default=None, metadata={"doc": "of the coil in the motor", "quantity": "inductance"}
    )
    total_mass: float | None = field(
        default=None,
        metadata={"doc": "moving mass with the winding, instead of mass", "quantity": "mass"},
    )
    cone_mass: float | None = field(
        default=None,
        metadata={"doc": "with surround and other, instead of mass", "quantity": "mass"},
    )
    surround_mass: float | None = field(
        default=None, metadata={"doc": "share that moves", "quantity": "mass"}
    )
    other_mass: float | None = field(
        default=None, metadata={"doc": "spider, glue, leads, air load", "quantity": "mass"}
    )

    def __post_init__(self) -> None:
        parts = (self.cone_mass, self.surround_mass, self.other_mass)
        ways = (self.mass, self.total_mass, next(filter(None, parts), None))
        given = sum(way is not None for way in ways)
        if given != 1:
            raise InvalidInput(
                "mass",
                "be given in one way: mass, total_mass, or cone_mass, surround_mass, other_mass",
                "nothing" if not given else f"{given} ways",
            )
        for item in dataclasses.fields(self):
            value, kind = getattr(self, item.name), item.metadata["quantity"]
            low, high = MOVING_RANGES[kind]
            if isinstance(value, Characteristic):
                value.demand_positive(item.name)
                value = value.at_rest
            if value is not None:
                check_number(item.name, value, low, high, kind)

    @property
    def stiffness_at_rest(self) -> float:
        """Stiffness at the rest position, N/m."""
        return as_characteristic(self.stiffness).at_rest

    def moving_mass(self, coil: Coil) -> float:
        """Return the moving mass in kg with a coil's winding and former."""
        if self.total_mass is not None:
            return self.total_mass
        parts = (self.mass, self.cone_mass, self.surround_mass, self.other_mass)
        return sum(filter(None, parts)) + coil.mass_with_enamel + coil.former_mass


@dataclass(frozen=True)
class Clearance:
    """Radial distance in metres from former and winding to the parts on either side."""

    inner: float
    outer: float


@dataclass(frozen=True)
class Travel:
    """Free travel of coil and former from rest, metres; infinite if nothing is in the way."""

    inward: float
    outward: float

    @property
    def limit(self) -> float:
        """The smaller of the two; infinite if nothing is in the way."""
        return min(self.inward, self.outward)


@dataclass(frozen=True, kw_only=True)
class Design:
    """Everything that defines one motor and its coil.

    Parameters
    ----------
    geometry : Geometry
    materials : Materials
    coil : Coil
    temperature : float
        Of coil, magnets and all parts, kelvin; `materials.temperatures` names exceptions.
    moving_parts : MovingParts or None
    stroke : StrokeRules
    name, notes : str
    box : Box or None
        What the driver is mounted in; None for an infinite baffle.
    amplifier : Amplifier or None
        What drives it; None for an ideal source.
    heat : HeatRules
    """

    geometry: Geometry
    materials: Materials
    coil: Coil
    temperature: float = REFERENCE_TEMPERATURE
    moving_parts: MovingParts | None = None
    stroke: StrokeRules = field(default_factory=StrokeRules)
    name: str = "unnamed motor"
    notes: str = ""
    box: Box | None = None
    amplifier: Amplifier | None = None
    heat: HeatRules = field(default_factory=HeatRules)

    def __post_init__(self) -> None:
        check_text("name", self.name)
        check_text("notes", self.notes)
        _check_temperature("temperature", self.temperature)
        for part, kelvin in self.materials.temperatures.items():
            _check_temperature(f"materials.temperatures.{part}", kelvin)
        regions = self.regions
        known = {region.name: region for region in regions}
        for key in ("parts", "temperatures"):
            for part in getattr(self.materials, key):
                if part not in known:
                    limit = f"name one of the parts {', '.join(known)}"
                    raise InvalidInput(f"materials.{key}.{part}", limit, part)
        for region in regions:
            material = self.materials.material_of(region)
            if isinstance(material, Magnet):
                material.remanence_at(self.temperature_of(region.name))
        _check_coil(self.coil, regions)
        _ = self.clearance
        coil, parts = self.coil, self.moving_parts
        self.stroke.check(parts)
        least = coil.mass_with_enamel + coil.former_mass
        if parts is not None and not parts.moving_mass(coil) > least:
            raise InvalidInput(
                "moving_parts.total_mass",
                f"be greater than that of its coil, {least * 1e3:.4g} g",
                f"{parts.moving_mass(coil) * 1e3:.4g} g",
            )

    @functools.cached_property
    def regions(self) -> tuple[Region, ...]:
        """The parts of the motor."""
        return self.geometry.regions()

    @property
    def overhang(self) -> float:
        """Half the difference between winding height and gap depth, metres; negative: underhung."""
        return (self.coil.winding_height - self.geometry.gap.depth) / 2

    @functools.cached_property
    def clearance(self) -> Clearance:
        """Radial clearance of the coil at rest, in the gap and along its whole height."""
        coil = self.coil
        low, high, free_inner, free_outer = self._free_way
        inner, _ = radial_room(self.regions, coil.mean_radius, low, high)
        found = Clearance(
            coil.inner_diameter / 2 - max(inner, free_inner),
            min(self._room_outside(one) for one in coil.each),
        )
        for side, value in (("inner", found.inner), ("outer", found.outer)):
            if not value > 0:
                raise InvalidInput(
                    "coil",
                    f"clear the parts on its {side} side (free gap from diameter "
                    f"{millimetres(2 * free_inner)} to {millimetres(2 * free_outer)})",
                    f"{side} clearance {millimetres(value)} for a coil from diameter "
                    f"{millimetres(coil.inner_diameter)} to {millimetres(2 * coil.outer_radius)} "
                    f"(change {CHANGES[side]})",
                )
        return found

    @functools.cached_property
    def _free_way(self) -> tuple[float, float, float, float]:
        """Ends of all windings and gaps, and the radii free in all gaps; metres."""
        gaps = self.geometry.gap.all
        free = [free_gap(self.regions, gap) for gap in gaps]
        return (
            min(self.coil.bottom, *(gap.bottom for gap in gaps)),
            max(self.coil.top, *(gap.top for gap in gaps)),
            max(inner for inner, _ in free),
            min(outer for _, outer in free),
        )

    def _room_outside(self, winding: Coil) -> float:
        """Return the clearance outside one winding: of the main one in the gap, of all at rest."""
        gap = self.geometry.gap
        gaps = [g for g in gap.all if g.top > winding.bottom and g.bottom < winding.top]
        if winding is self.coil.each[0] and gap not in gaps:
            gaps.append(gap)
        low = min([winding.bottom, *(g.bottom for g in gaps)])
        high = max([winding.top, *(g.top for g in gaps)])
        outer = radial_room(self.regions, winding.mean_radius, low, high)[1]
        free = [free_gap(self.regions, g)[1] for g in gaps]
        return min([outer, *free]) - winding.outer_radius

    @functools.cached_property
    def contact(self) -> Travel:
        """How far coil and former can move either way before they touch a part."""
        coil, regions = self.coil, self.regions
        stops = [
            vertical_stops(regions, one.inner_radius, one.outer_radius, one.bottom, one.top)
            for one in coil.each
        ]
        down, up = min(way for way, _ in stops), min(way for _, way in stops)
        foot = coil.bottom - coil.former_below
        bore = coil.inner_diameter / 2
        if coil.inner_radius > bore:
            below, above = vertical_stops(regions, bore, coil.inner_radius, foot, coil.top)
            down, up = min(down, below), min(up, above)
        return Travel(down, up)

    @property
    def travel(self) -> Travel:
        """The same less the coil's travel margin: the mechanical limits."""
        free, margin = self.contact, self.coil.travel_margin
        return Travel(max(free.inward - margin, 0.0), max(free.outward - margin, 0.0))

    def temperature_of(self, part: str) -> float:
        """Return the temperature of a part in kelvin: its own, or the design's."""
        return self.materials.temperatures.get(part, self.temperature)

    def at(self, temperature: float) -> Design:
        """Return the design with all at one temperature in kelvin."""
        materials = dataclasses.replace(self.materials, temperatures={})
        return self.replace(temperature=temperature, materials=materials)

    def replace(self, **changes: Any) -> Design:
        """Return the design with some fields changed; all checks run again."""
        return dataclasses.replace(self, **changes)

    def _repr_svg_(self) -> str:
        return section_svg(
            self.regions,
            gap=self.geometry.gap,
            coil=self.coil.outlines(drawn=True),
            title=self.name,
            origin=stamp(),
            marks=self.geometry.marked,
        )


def _check_coil(coil: Coil, regions: tuple[Region, ...]) -> None:
    """Raise InvalidInput if winding or former at rest overlap a part."""
    from shapely import Polygon

    for name, outline in coil.outlines():
        whose = name.partition("_")[0]
        for region in regions:
            common = Polygon(outline).intersection(polygon(region))
            if common.area > AREA_GRAIN:
                r0, z0, r1, z1 = solid_bounds(common)
                raise InvalidInput(
                    f"the coil's {name}",
                    f"stay clear of {region.name} at rest",
                    f"an overlap of {millimetres(r1 - r0)} x {millimetres(z1 - z0)} at "
                    f"r = {millimetres(r0)}, z = {millimetres(z0)}: a clearance of "
                    f"{millimetres(-min(r1 - r0, z1 - z0))} (change {CHANGES[whose]})",
                )
