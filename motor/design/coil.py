"""The voice coil: from wire, layers and winding height to turns, resistance, mass and size."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from geometries import InvalidInput, Point, millimetres
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
ENAMEL_DENSITY = 1400.0
"""Density of wire enamel in kg/m^3 (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Coil:
    """A winding in full layers on a former.

    The turns are spread evenly over the winding height, and the winding counts as a uniform
    current density over its section.  Layers stack without nesting, so the build-up is the
    widest possible.  Leads are not counted.  Several equal windings (a double coil) share the
    turns; in series they count as one, in parallel each turn of all of them counts once.

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
        "series" or "parallel".
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

    @property
    def turns_per_layer(self) -> int:
        """Whole turns that fit into the winding height."""
        return int(self.winding_height / self.wire.pitch + 1e-9)

    @property
    def turns(self) -> int:
        """Turns of all layers and windings."""
        return self.layers * self.turns_per_layer

    @property
    def turns_in_series(self) -> int:
        """Turns that the terminals see: all in series, those of one winding in parallel."""
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
        return 2 * math.pi * self.mean_radius * self.turns

    def resistance(self, temperature: float = REFERENCE_TEMPERATURE) -> float:
        """Return the direct-current resistance in ohm at a temperature in kelvin."""
        resistivity = conductor_named(self.wire.material).resistivity_at(temperature)
        whole = resistivity * self.wire_length / self.wire.conductor_area
        return whole if self.connection == "series" else whole / self.windings**2

    @property
    def mass(self) -> float:
        """Mass of the bare conductor in kg."""
        density = conductor_named(self.wire.material).density
        return density * self.wire.conductor_area * self.wire_length

    @property
    def mass_with_enamel(self) -> float:
        """Mass of conductor and enamel in kg."""
        enamel = self.wire.overall_area - self.wire.conductor_area
        return self.mass + ENAMEL_DENSITY * enamel * self.wire_length

    @property
    def former_mass(self) -> float:
        """Mass of the former in kg; 0 if it has no thickness or no material is given."""
        if not self.former_material:
            return 0.0
        length = self.winding_height + self.former_below + self.former_above
        around = math.pi * (self.inner_diameter + self.former_thickness)
        density = former_named(self.former_material).density
        return density * around * self.former_thickness * length

    @property
    def fill_factor(self) -> float:
        """Share of the winding's section that is conductor."""
        section = self.winding_height * self.build_up
        return self.turns * self.wire.conductor_area / section

    def outlines(self, *, drawn: bool = False) -> list[tuple[str, list[Point]]]:
        """Return winding and former as named outlines at rest (metres).

        ``drawn`` adds a stub of former above the winding where its length is not given.
        """
        low = self.rest_position - self.winding_height / 2
        high = self.rest_position + self.winding_height / 2
        a, b, bore = self.inner_radius, self.outer_radius, self.inner_diameter / 2
        parts = [("winding", [(a, low), (b, low), (b, high), (a, high)])]
        if self.former_thickness > 0:
            foot = low - self.former_below
            stub = 0.25 * self.winding_height if drawn and not self.former_above else 0.0
            top = high + self.former_above + stub
            parts.append(("former", [(bore, foot), (a, foot), (a, top), (bore, top)]))
        return parts


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
