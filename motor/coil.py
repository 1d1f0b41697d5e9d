"""The voice coil: from wire, layers and winding height to turns, resistance, mass and size."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from geometries import InvalidInput, Point, millimetres
from motor.materials import REFERENCE_TEMPERATURE, conductor_named

__all__ = ["Coil", "Wire"]

ENAMEL_DENSITY = 1400.0
"""Density of wire enamel in kg/m^3 (common practice, no source)."""


def _between(name: str, value: float, low: float, high: float) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(name, "be a length in metres", repr(value))
    if not (math.isfinite(value) and low <= value <= high):
        raise InvalidInput(
            name, f"be between {millimetres(low)} and {millimetres(high)}", millimetres(value)
        )


@dataclass(frozen=True, kw_only=True)
class Wire:
    """Round enamelled wire.

    Parameters
    ----------
    material : str
        Conductor, e.g. "copper" or "aluminium".
    bare_diameter, overall_diameter : float
        Diameter without and with enamel, metres.
    """

    material: str = field(default="copper", metadata={"doc": "copper or aluminium"})
    bare_diameter: float = field(
        metadata={"doc": "diameter of the conductor", "quantity": "length"}
    )
    overall_diameter: float = field(
        metadata={"doc": "diameter over the enamel", "quantity": "length"}
    )

    def __post_init__(self) -> None:
        conductor_named(self.material)
        _between("bare_diameter", self.bare_diameter, 0.01e-3, 5e-3)
        _between("overall_diameter", self.overall_diameter, 0.01e-3, 6e-3)
        if self.overall_diameter < self.bare_diameter:
            raise InvalidInput(
                "overall_diameter",
                f"be at least bare_diameter, {millimetres(self.bare_diameter)}",
                millimetres(self.overall_diameter),
            )


@dataclass(frozen=True, kw_only=True)
class Coil:
    """A winding of round wire in full layers on a former.

    The turns are spread evenly over the winding height, and the winding counts as a uniform
    current density over its section.  Layers stack without nesting, so the build-up is the
    widest possible.  Leads are not counted.

    Parameters
    ----------
    inner_diameter : float
        Bore of the former (of the winding, where the former has no thickness), metres.
    wire : Wire
    layers : int
    winding_height : float
        Axial length of the winding, metres.
    rest_position : float
        Height of the winding's middle above the middle of the gap at rest, metres.
    former_thickness : float
        Wall of the former under the winding, metres; 0 for none.
    former_below : float
        Length of former below the winding, metres.
    travel_margin : float
        Distance to be kept from back plate or floor, metres.
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
    wire: Wire
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
    travel_margin: float = field(
        default=0.5e-3,
        metadata={"doc": "distance to keep from back plate or floor", "quantity": "length"},
    )

    def __post_init__(self) -> None:
        _between("inner_diameter", self.inner_diameter, 2e-3, 0.5)
        _between("winding_height", self.winding_height, 0.1e-3, 0.2)
        _between("rest_position", self.rest_position, -0.2, 0.2)
        for name in ("former_thickness", "former_below", "travel_margin"):
            _between(name, getattr(self, name), 0.0, 0.1)
        if isinstance(self.layers, bool) or not isinstance(self.layers, int):
            raise InvalidInput("layers", "be a whole number", repr(self.layers))
        if not 1 <= self.layers <= 20:
            raise InvalidInput("layers", "be between 1 and 20", self.layers)
        if self.turns_per_layer < 1:
            raise InvalidInput(
                "winding_height",
                f"hold at least one turn of {millimetres(self.wire.overall_diameter)}",
                millimetres(self.winding_height),
            )

    @property
    def turns_per_layer(self) -> int:
        """Whole turns that fit into the winding height."""
        return int(self.winding_height / self.wire.overall_diameter + 1e-9)

    @property
    def turns(self) -> int:
        """Turns of all layers."""
        return self.layers * self.turns_per_layer

    @property
    def build_up(self) -> float:
        """Radial thickness of the winding in metres."""
        return self.layers * self.wire.overall_diameter

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
        area = math.pi * self.wire.bare_diameter**2 / 4
        resistivity = conductor_named(self.wire.material).resistivity_at(temperature)
        return resistivity * self.wire_length / area

    @property
    def mass(self) -> float:
        """Mass of the bare conductor in kg."""
        area = math.pi * self.wire.bare_diameter**2 / 4
        return conductor_named(self.wire.material).density * area * self.wire_length

    @property
    def mass_with_enamel(self) -> float:
        """Mass of conductor and enamel in kg."""
        ring = math.pi * (self.wire.overall_diameter**2 - self.wire.bare_diameter**2) / 4
        return self.mass + ENAMEL_DENSITY * ring * self.wire_length

    def outlines(self) -> list[tuple[str, list[Point]]]:
        """Return winding and former as named outlines at rest (metres)."""
        low = self.rest_position - self.winding_height / 2
        high = self.rest_position + self.winding_height / 2
        a, b, bore = self.inner_radius, self.outer_radius, self.inner_diameter / 2
        parts = [("winding", [(a, low), (b, low), (b, high), (a, high)])]
        if self.former_thickness > 0:
            foot = low - self.former_below
            top = high + 0.25 * self.winding_height
            parts.append(("former", [(bore, foot), (a, foot), (a, top), (bore, top)]))
        return parts
