"""For every option of a drawing that is off by default: values that switch it on.

An option may need others beside it (a recess has a depth and a diameter).  ``BESIDE`` names
those; an option that is not listed is tried alone.  Lengths in metres.
"""

from __future__ import annotations

import dataclasses
from typing import Any

from geometries import Geometry, InvalidInput, Ring, registered

LIP = {"top_plate_thickness": 9e-3, "lip_step": 1e-3}
DISH = {"back_plate_dish": 2e-3, "back_plate_dish_diameter": 42e-3}
BUMP = {"back_plate_bump": 3e-3, "back_plate_bump_diameter": 50e-3}
FOOT = {"pole_foot_diameter": 38e-3, "pole_foot_height": 6e-3}
CAP = {"cap_thickness": 0.5e-3, "cap_height": 15e-3}
UNDERCUT = {"pole_undercut": 1e-3, "pole_undercut_height": 5e-3}
SECOND = {"second_magnet_thickness": 3e-3, "second_magnet_diameter": 27e-3}

BESIDE: dict[str, dict[str, dict[str, Any]]] = {
    "outside-magnet": {
        "pole_undercut": UNDERCUT,
        "pole_undercut_height": UNDERCUT,
        "gap_depth": LIP,
        "top_plate_thickness": LIP,
        "lip_step": LIP,
        "lip_style": LIP,
        "lip_position": LIP,
        "back_plate_dish": DISH,
        "back_plate_dish_diameter": DISH,
        "back_plate_bump": BUMP,
        "back_plate_bump_diameter": BUMP,
        "pole_foot_diameter": FOOT,
        "pole_foot_height": FOOT,
        "cap_thickness": CAP,
        "cap_height": CAP,
        "cap_material": CAP,
    },
    "inside-magnet": {
        "lip_height": {"lip_height": 3e-3},
        "second_magnet_diameter": SECOND,
        "second_magnet_thickness": {"second_magnet_thickness": 3e-3},
        "vent_diameter": {"magnet_bore_diameter": 8e-3, "vent_diameter": 6e-3},
        "magnet_bore_diameter": {"magnet_bore_diameter": 8e-3},
    },
}
PLAUSIBLE = (1e-3, 0.5e-3, 2e-3, 5e-3, 10e-3, 20e-3, 40e-3)
"""Lengths tried in turn for an option that has no entry above."""

SLEEVE = Ring(
    name="sleeve", inner_diameter=31e-3, outer_diameter=31.4e-3, bottom=-3e-3, height=6e-3
)


def is_off(field: dataclasses.Field[Any]) -> bool:
    """Say whether a field of a geometry is an option that is off unless it is given."""
    if field.metadata.get("quantity") == "length":
        return field.default is None or field.default == 0.0
    return field.metadata.get("quantity") == "choice"


def own_fields(cls: type[Geometry]) -> list[dataclasses.Field[Any]]:
    """Return the fields that a geometry does not have from another kind, which is tried itself."""
    inherited = {f.name for base in cls.__bases__ for f in dataclasses.fields(base)}  # type: ignore[arg-type]
    return [field for field in dataclasses.fields(cls) if field.name not in inherited]


def off_options() -> list[tuple[str, str]]:
    """Return (kind, field) of every option that is off by default."""
    return [
        (kind, field.name)
        for kind, cls in registered().items()
        for field in own_fields(cls)
        if is_off(field)
    ]


def length_fields() -> list[tuple[str, str]]:
    """Return (kind, field) of every length of every geometry."""
    return [
        (kind, field.name)
        for kind, cls in registered().items()
        for field in own_fields(cls)
        if field.metadata.get("quantity") == "length"
    ]


FIXED = sorted({kind for kind, _ in length_fields()})
"""Kinds whose dimensions are fields of their own; those drawn freely name theirs themselves."""


def example(kind: str, **changes: Any) -> Geometry:
    """Return a geometry's example with some dimensions changed."""
    return dataclasses.replace(registered()[kind].example(), **changes)


def switched_on(kind: str, name: str) -> Geometry:
    """Return the example with one option on, and what it needs beside it."""
    field = next(f for f in dataclasses.fields(registered()[kind]) if f.name == name)
    beside = BESIDE.get(kind, {}).get(name, {})
    if field.metadata["quantity"] == "choice":
        return example(kind, **{**beside, name: field.metadata["options"][-1]})
    if name in beside:
        return example(kind, **beside)
    for value in PLAUSIBLE:
        try:
            return example(kind, **{**beside, name: value})
        except InvalidInput:
            continue
    raise LookupError(f"no plausible value switches on {name} of {kind}: add one to BESIDE")


def sleeve_in(kind: str, **changes: Any) -> Ring:
    """Return a thin sleeve on the inner side of a geometry's gap, as tall as the gap."""
    gap = registered()[kind].example().gap
    return dataclasses.replace(
        SLEEVE,
        **{
            "inner_diameter": 2 * gap.inner_radius,
            "outer_diameter": 2 * gap.inner_radius + 0.2 * gap.width,
            "bottom": gap.bottom,
            "height": gap.depth,
            **changes,
        },
    )
