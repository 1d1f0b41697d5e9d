"""What of a geometry may be changed one by one: dimensions, choices, and those of its rings."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geometries.errors import InvalidInput

__all__ = ["Changeable", "changed_rings", "of_fields", "of_rings"]

RINGS = "rings."


@dataclass(frozen=True)
class Changeable:
    """One value of a geometry that a study may change.

    Parameters
    ----------
    value : float, str or None
        Lengths in metres, angles in radians, choices and names as words.
    quantity : str
        "length", "angle", "number" or "text".
    doc : str
        What it is, in words.
    """

    value: Any
    quantity: str
    doc: str = ""


def of_fields(record: Any, skip: tuple[str, ...] = ()) -> dict[str, Changeable]:
    """Return the fields of a record; those without a quantity are text."""
    found = {}
    for field in dataclasses.fields(record):
        if field.name not in skip:
            quantity = "length" if field.metadata.get("quantity") == "length" else "text"
            value = getattr(record, field.name)
            found[field.name] = Changeable(value, quantity, field.metadata.get("doc", ""))
    return found


def of_rings(rings: Sequence[Any]) -> dict[str, Changeable]:
    """Return size, place and material of every ring as ``rings.NAME.KEY``."""
    return {
        f"{RINGS}{ring.name}.{key}": dataclasses.replace(
            entry, doc=f"{ring.name}: {entry.doc or key}"
        )
        for ring in rings
        for key, entry in of_fields(ring, skip=("name",)).items()
    }


def changed_rings(rings: Sequence[Any], changes: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return the rings with the changes that are named ``rings.NAME.KEY``."""
    wanted: dict[str, dict[str, Any]] = {}
    for name, value in changes.items():
        if name.startswith(RINGS):
            ring, _, key = name.removeprefix(RINGS).rpartition(".")
            wanted.setdefault(ring, {})[key] = value
    known = {ring.name for ring in rings}
    for name in wanted:
        if name not in known:
            raise InvalidInput("rings", f"hold a ring {name!r} to be changed", sorted(known))
    return tuple(dataclasses.replace(ring, **wanted.get(ring.name, {})) for ring in rings)
