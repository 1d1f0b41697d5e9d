"""The voice coil: from wire, layers and winding height to turns, resistance, mass and size."""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass, field

from geometries import InvalidInput, Point, millimetres
from motor.design.winding_part import WindingPart
from motor.design.wire import FlatWire, Wire, between
from motor.materials import REFERENCE_TEMPERATURE, conductor_named, former_named

__all__ = ["Coil", "WoundCoil"]

CHANGES = {
    "winding": "coil.rest_position, winding_height, inner_diameter or layers",
    "former": "coil.rest_position, former_below, inner_diameter or former_thickness",
    "inner": "coil.inner_diameter",
    "outer": "coil.inner_diameter, former_thickness, layers or wire",
}
"""What to change where this part, or this side, of the coil meets the motor."""
GRAIN = 1e-9
"""Parts of a winding may overlap by this, metres: rounding."""
ENAMEL_DENSITY = 1400.0
"""Density of wire enamel in kg/m^3 (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Coil:
    """A winding in full layers on a former, and any further parts of it.

    The turns are spread evenly over the winding height, and the winding counts as a uniform
    current density over its section.  Layers stack without nesting, so the build-up is the
    widest possible.  Leads are not counted.  Several equal windings (a double coil) share the
    turns; in series they count as one, in parallel each turn of all of them counts once.
    Parts in parallel share a steady current by their resistances.

    Height, layers, wire, build-up, radii and rest position are those of the main winding; turns,
    resistance, masses and ends those of all parts.

    Parameters
    ----------
    inner_diameter : float
        Bore of the former (of the winding, where the former has no thickness), metres.
    wire : Wire or FlatWire
    layers : int
    winding_height : float
        Axial length of the winding, metres.
    rest_position : float
        Height of the winding's middle above the middle of the gap at rest, metres.
    former_thickness : float
        Wall of the former under the winding, metres; 0 for none.
    former_below : float
        Length of former below the winding, metres.
    former_above : float
        Length of former above the winding, metres.
    former_material : str
        Name from the table of formers, for its mass; "" to leave its mass out.
    travel_margin : float
        Distance to be kept from back plate or floor, metres.
    windings : int
        Number of equal windings that the turns are shared by.
    connection : str
        "series" or "parallel": of the equal windings, or of the parts.
    parts : tuple of WindingPart
        Besides the main winding.
    """

    inner_diameter: float = field(
        metadata={
            "doc": "bore of the former (of the winding, if there is none)",
            "quantity": "length",
        }
    )
    winding_height: float = field(
        metadata={"doc": "axial length of the winding", "quantity": "length"}
    )
    layers: int = field(metadata={"doc": "number of layers", "quantity": "count"})
    wire: Wire | FlatWire
    rest_position: float = field(
        default=0.0,
        metadata={
            "doc": "middle of the winding above the middle of the gap, at rest",
            "quantity": "length",
        },
    )
    former_thickness: float = field(
        default=0.0, metadata={"doc": "wall of the former, 0 for none", "quantity": "length"}
    )
    former_below: float = field(
        default=0.0,
        metadata={"doc": "length of former below the winding", "quantity": "length"},
    )
    former_above: float = field(
        default=0.0,
        metadata={
            "doc": "length of former above the winding, for its mass",
            "quantity": "length",
        },
    )
    former_material: str = field(
        default="", metadata={"doc": "material of the former, for its mass"}
    )
    travel_margin: float = field(
        default=0.5e-3,
        metadata={"doc": "distance to keep from back plate or floor", "quantity": "length"},
    )
    windings: int = field(
        default=1, metadata={"doc": "equal windings that share the turns", "quantity": "count"}
    )
    connection: str = field(
        default="series",
        metadata={"doc": "of several windings", "options": ("series", "parallel")},
    )
    parts: tuple[WindingPart, ...] = ()

    def __post_init__(self) -> None:
        between("inner_diameter", self.inner_diameter, 2e-3, 0.5)
        between("winding_height", self.winding_height, 0.1e-3, 0.2)
        between("rest_position", self.rest_position, -0.2, 0.2)
        for name in ("former_thickness", "former_below", "former_above", "travel_margin"):
            between(name, getattr(self, name), 0.0, 0.1)
        for name, most in (("layers", 20), ("windings", 8)):
            count = getattr(self, name)
            if isinstance(count, bool) or not isinstance(count, int):
                raise InvalidInput(name, "be a whole number", repr(count))
            if not 1 <= count <= most:
                raise InvalidInput(name, f"be between 1 and {most}", count)
        if self.connection not in ("series", "parallel"):
            raise InvalidInput("connection", "be series or parallel", repr(self.connection))
        if self.former_material:
            former_named(self.former_material)
        if self.turns_per_layer < 1:
            raise InvalidInput(
                "winding_height",
                f"hold at least one turn of {millimetres(self.wire.pitch)}",
                millimetres(self.winding_height),
            )
        if self.windings > 1 and self.turns % self.windings:
            raise InvalidInput("windings", f"share {self.turns} turns equally", self.windings)
        if self.parts:
            self._check_parts()

    def _check_parts(self) -> None:
        if self.windings > 1:
            raise InvalidInput("windings", "be 1 where the coil has parts", self.windings)
        names = [part.name for part in self.parts]
        for name in names:
            if names.count(name) > 1:
                raise InvalidInput("parts", "have a name each", f"{name} more than once")
        every = list(zip(("winding", *names), self.each, strict=True))
        for k, (name, one) in enumerate(every):
            if one.inner_radius < self.inner_radius - GRAIN:
                raise InvalidInput(
                    f"parts.{name}.inner_diameter",
                    f"be that of the former outside or more, {millimetres(2 * self.inner_radius)}",
                    millimetres(2 * one.inner_radius),
                )
            for other_name, other in every[:k]:
                high = min(one.top, other.top) - max(one.bottom, other.bottom)
                wide = min(one.outer_radius, other.outer_radius) - max(
                    one.inner_radius, other.inner_radius
                )
                if high > GRAIN and wide > GRAIN:
                    raise InvalidInput(
                        f"parts.{name}",
                        f"stay clear of {other_name}",
                        f"an overlap of {millimetres(wide)} x {millimetres(high)}",
                    )

    @functools.cached_property
    def each(self) -> tuple[Coil, ...]:
        """The main winding and every part as coils of their own, without lengths of bare former."""
        if not self.parts:
            return (self,)
        main = dataclasses.replace(
            self, parts=(), former_below=0.0, former_above=0.0, connection="series"
        )
        found = [main]
        for part in self.parts:
            outside = part.inner_diameter
            try:
                found.append(
                    dataclasses.replace(
                        main,
                        inner_diameter=self.inner_diameter if outside is None else outside,
                        former_thickness=self.former_thickness if outside is None else 0.0,
                        winding_height=part.winding_height,
                        layers=part.layers,
                        wire=part.wire or self.wire,
                        rest_position=self.rest_position + part.place,
                    )
                )
            except InvalidInput as error:
                raise error.within(f"parts.{part.name}") from None
        return tuple(found)

    @property
    def parts_share(self) -> bool:
        """Whether parts in parallel share an alternating current as their fields make them."""
        return bool(self.parts) and self.connection == "parallel"

    @functools.cached_property
    def shares(self) -> tuple[float, ...]:
        """Steady current in each of :attr:`each` per ampere at the terminals, with its sense."""
        senses = [1.0, *(1.0 if part.sense == "same" else -1.0 for part in self.parts)]
        if not self.parts_share:
            return tuple(senses)
        conductances = [1 / coil.resistance() for coil in self.each]
        whole = sum(conductances)
        return tuple(s * g / whole for s, g in zip(senses, conductances, strict=True))

    @property
    def ampere_turns(self) -> tuple[float, ...]:
        """Of each of :attr:`each` per ampere at the terminals, with its sense."""
        each = zip(self.shares, self.each, strict=True)
        return tuple(share * coil.turns_in_series for share, coil in each)

    @property
    def bottom(self) -> float:
        """Lowest end of all windings at rest above the middle of the gap, metres."""
        return min(c.rest_position - c.winding_height / 2 for c in self.each)

    @property
    def top(self) -> float:
        """Highest end of all windings at rest above the middle of the gap, metres."""
        return max(c.rest_position + c.winding_height / 2 for c in self.each)

    @property
    def turns_per_layer(self) -> int:
        """Whole turns that fit into the winding height."""
        return int(self.winding_height / self.wire.pitch + 1e-9)

    @property
    def turns(self) -> int:
        """Turns of all layers, windings and parts."""
        if self.parts:
            return sum(coil.turns for coil in self.each)
        return self.layers * self.turns_per_layer

    @property
    def turns_in_series(self) -> float:
        """Turns that the terminals see: all in series, those of one winding in parallel.

        Of parts in parallel the mean, weighted by their currents.
        """
        if self.parts:
            return sum(map(abs, self.ampere_turns))
        return self.turns if self.connection == "series" else self.turns // self.windings

    @property
    def build_up(self) -> float:
        """Radial thickness of the winding in metres."""
        return self.layers * self.wire.build

    @property
    def inner_radius(self) -> float:
        """Inner radius of the winding in metres."""
        return self.inner_diameter / 2 + self.former_thickness

    @property
    def outer_radius(self) -> float:
        """Outer radius of the winding in metres."""
        return self.inner_radius + self.build_up

    @property
    def mean_radius(self) -> float:
        """Mean radius of the winding in metres."""
        return (self.inner_radius + self.outer_radius) / 2

    @property
    def wire_length(self) -> float:
        """Length of the wound wire in metres, without leads."""
        if self.parts:
            return sum(coil.wire_length for coil in self.each)
        return 2 * math.pi * self.mean_radius * self.turns

    def resistance(self, temperature: float = REFERENCE_TEMPERATURE) -> float:
        """Return the direct-current resistance in ohm at a temperature in kelvin."""
        if self.parts:
            each = [coil.resistance(temperature) for coil in self.each]
            return sum(each) if self.connection == "series" else 1 / sum(1 / r for r in each)
        resistivity = conductor_named(self.wire.material).resistivity_at(temperature)
        whole = resistivity * self.wire_length / self.wire.conductor_area
        return whole if self.connection == "series" else whole / self.windings**2

    @property
    def mass(self) -> float:
        """Mass of the bare conductor in kg."""
        if self.parts:
            return sum(coil.mass for coil in self.each)
        density = conductor_named(self.wire.material).density
        return density * self.wire.conductor_area * self.wire_length

    @property
    def mass_with_enamel(self) -> float:
        """Mass of conductor and enamel in kg."""
        if self.parts:
            return sum(coil.mass_with_enamel for coil in self.each)
        enamel = self.wire.overall_area - self.wire.conductor_area
        return self.mass + ENAMEL_DENSITY * enamel * self.wire_length

    @property
    def former_mass(self) -> float:
        """Mass of the former in kg; 0 if it has no thickness or no material is given."""
        if not self.former_material:
            return 0.0
        length = self.top - self.bottom + self.former_below + self.former_above
        around = math.pi * (self.inner_diameter + self.former_thickness)
        density = former_named(self.former_material).density
        return density * around * self.former_thickness * length

    @property
    def fill_factor(self) -> float:
        """Share of the windings' section that is conductor."""
        section = sum(c.winding_height * c.build_up for c in self.each)
        return sum(c.turns * c.wire.conductor_area for c in self.each) / section

    def outlines(self, *, drawn: bool = False) -> list[tuple[str, list[Point]]]:
        """Return windings and former as named outlines at rest (metres).

        ``drawn`` adds a stub of former above the winding where its length is not given.
        """
        names = ["winding", *(f"winding_{part.name}" for part in self.parts)]
        found: list[tuple[str, list[Point]]] = []
        for name, coil in zip(names, self.each, strict=True):
            low = coil.rest_position - coil.winding_height / 2
            high = coil.rest_position + coil.winding_height / 2
            a, b = coil.inner_radius, coil.outer_radius
            found.append((name, [(a, low), (b, low), (b, high), (a, high)]))
        if self.former_thickness > 0:
            a, bore = self.inner_radius, self.inner_diameter / 2
            foot = self.bottom - self.former_below
            stub = 0.25 * self.winding_height if drawn and not self.former_above else 0.0
            top = self.top + self.former_above + stub
            found.append(("former", [(bore, foot), (a, foot), (a, top), (bore, top)]))
        return found


@dataclass(frozen=True, kw_only=True)
class WoundCoil(Coil):
    """A coil whose turns were counted: winding height and wire may change, its turns stay.

    Parameters
    ----------
    wound : float
        Turns; between whole numbers while they are being inferred.
    """

    wound: float

    @property
    def turns(self) -> float:  # type: ignore[override]
        """Turns of all layers."""
        return self.wound
