"""A further part of a winding: on the same former, with its own place, height, layers and wire."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from geometries import InvalidInput
from motor.design.wire import FlatWire, Wire, between

__all__ = ["SENSES", "WindingPart"]

SENSES = ("same", "opposite")


@dataclass(frozen=True, kw_only=True)
class WindingPart:
    """A part beside the coil's main winding.

    Parameters
    ----------
    name : str
        Lower-case identifier.
    place : float
        Height of its middle above the middle of the main winding, metres.
    winding_height : float
        Metres.
    layers : int
    sense : str
        "same" or "opposite" to the main winding's.
    inner_diameter : float or None
        What it is wound on, metres: other layers; None for the former.
    wire : Wire or FlatWire or None
        None for that of the main winding.
    """

    name: str = field(metadata={"doc": "what this part is called"})
    place: float = field(
        metadata={"doc": "its middle above the middle of the main winding", "quantity": "length"}
    )
    winding_height: float = field(
        metadata={"doc": "axial length of this part", "quantity": "length"}
    )
    layers: int = field(metadata={"doc": "number of layers", "quantity": "count"})
    sense: str = field(default="same", metadata={"doc": "against the main's", "options": SENSES})
    inner_diameter: float | None = field(
        default=None,
        metadata={"doc": "what it is wound on, the former if left out", "quantity": "length"},
    )
    wire: Wire | FlatWire | None = None

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_]{0,30}", self.name):
            raise InvalidInput("name", "be a lower-case identifier", repr(self.name)[:80])
        between("place", self.place, -0.2, 0.2)
        if self.sense not in SENSES:
            raise InvalidInput("sense", f"be {' or '.join(SENSES)}", repr(self.sense))
