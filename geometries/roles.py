"""What the lengths of a geometry are for: what rules of studies and starters ask of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Roles"]


@dataclass(frozen=True)
class Roles:
    """The parts that lengths play, by the names of a geometry's fields.

    What is left out does not exist: rules that need it are refused with the geometry's kind.

    Parameters
    ----------
    outer : tuple of str
        Outer diameters; they keep their differences when the envelope is to stay.
    height : str
        The length that gives way when the height is to stay, usually the magnet's thickness.
    follows : mapping of str to str
        Diameters that keep their distance from another when the coil's diameter changes.
    flux_plates : tuple of str
        Thicknesses of the plates that carry the gap's flux outwards.
    magnet : str
        Grade with which a starter design begins.
    gap : tuple of two str, or empty
        Of drawn motors: the diameter inside the gap, and its radial width.
    """

    outer: tuple[str, ...] = ()
    height: str = ""
    follows: Mapping[str, str] = field(default_factory=dict)
    flux_plates: tuple[str, ...] = ()
    magnet: str = "Y30"
    gap: tuple[str, ...] = ()
