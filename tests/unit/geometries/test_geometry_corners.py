"""Ugly corners of geometries are meshed; parts a micrometre apart are meshed or refused."""

from __future__ import annotations

import re
from typing import Any

import pytest

from geometries import Geometry, InvalidInput, Ring, registered
from tests.unit.geometries.geometry_checks import check_contract, check_mesh
from tests.unit.geometries.options import BUMP, DISH, LIP, SECOND, example, sleeve_in

MICROMETRE = 1e-6


def corner_rings() -> dict[str, Ring]:
    """Return sleeves on the pole of the outside-magnet example that end in awkward places."""
    gap = registered()["outside-magnet"].example().gap
    pole_top, plate_bottom = gap.top + 3e-3, gap.bottom
    floor = plate_bottom - 15e-3
    return {
        "as tall as the gap": sleeve_in("outside-magnet"),
        "as tall as the pole": sleeve_in(
            "outside-magnet", bottom=floor, height=round(pole_top - floor, 9)
        ),
        "from the gap's middle up": sleeve_in(
            "outside-magnet", bottom=0.0, height=round(pole_top, 9)
        ),
        "on the outer face": sleeve_in(
            "outside-magnet",
            inner_diameter=2 * gap.outer_radius - 0.2 * gap.width,
            outer_diameter=2 * gap.outer_radius,
        ),
        "cap flush with the pole": sleeve_in(
            "outside-magnet",
            height=round(pole_top - gap.bottom, 9),
            cover=0.2e-3,
            cover_inner_diameter=0.0,
        ),
    }


@pytest.mark.parametrize("name", corner_rings())
def test_sleeve_that_ends_on_an_edge(name: str) -> None:
    geometry = example("outside-magnet", rings=(corner_rings()[name],))
    check_contract(geometry)
    check_mesh(geometry)


FINE = {
    "no extension": ("outside-magnet", {"pole_extension": 0.0}),
    "vent as wide as the magnet's bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8e-3},
    ),
    "lip as tall as the pole plate": ("inside-magnet", {"lip_height": 5e-3}),
    "second magnet narrower": ("inside-magnet", SECOND | {"second_magnet_diameter": 20e-3}),
    "second magnet wider": ("inside-magnet", SECOND | {"second_magnet_diameter": 30.5e-3}),
    "second magnet as wide as the plate": (
        "inside-magnet",
        SECOND | {"second_magnet_diameter": 31e-3},
    ),
    "plates and magnet in one line": (
        "outside-magnet",
        {"top_plate_outer_diameter": 90e-3, "back_plate_diameter": 90e-3},
    ),
    "undercut as deep as the magnet": (
        "outside-magnet",
        {"pole_undercut": 1e-3, "pole_undercut_height": 15e-3},
    ),
    "dish as wide as the magnet's bore": (
        "outside-magnet",
        DISH | {"back_plate_dish_diameter": 44e-3},
    ),
    "bump as wide as the dish": (
        "outside-magnet",
        DISH | BUMP | {"back_plate_dish_diameter": 42e-3, "back_plate_bump_diameter": 42e-3},
    ),
    "chamfer that leaves a sliver": ("outside-magnet", {"back_plate_chamfer": 5.999e-3}),
    "lip as deep as the plate": ("outside-magnet", LIP | {"lip_position": "top"}),
    "magnet as wide as the pole plate": ("inside-magnet", {"magnet_outer_diameter": 31e-3}),
    "rise up to the lip's height": ("inside-magnet", {"cup_rise": 4.9e-3}),
}


@pytest.mark.parametrize("name", FINE)
def test_ugly_corner_is_meshed(name: str) -> None:
    kind, changes = FINE[name]
    geometry = example(kind, **changes)
    check_contract(geometry)
    check_mesh(geometry)


NEAR_RINGS = {
    "sleeve above the back plate": {"bottom": -18e-3 + MICROMETRE, "height": 10e-3},
    "sleeve short of the gap's top": {"height": 6e-3 - MICROMETRE},
    "sleeve just out of the gap": {"bottom": -13e-3, "height": 10e-3 - MICROMETRE},
    "sleeve off the pole": {"inner_diameter": 31e-3 + 2 * MICROMETRE},
    "sleeve off the plate": {
        "inner_diameter": 33.8e-3,
        "outer_diameter": 34.2e-3 - 2 * MICROMETRE,
    },
    "sleeve into the pole": {"inner_diameter": 31e-3 - 2 * MICROMETRE},
}
NEAR = {
    name: ("outside-magnet", {"rings": (sleeve_in("outside-magnet", **changes),)})
    for name, changes in NEAR_RINGS.items()
} | {
    "magnet short of the pole": (
        "outside-magnet",
        {"magnet_inner_diameter": 31e-3 + 2 * MICROMETRE},
    ),
    "magnet short of the cup": (
        "inside-magnet",
        {"magnet_outer_diameter": 36.2e-3 - 2 * MICROMETRE},
    ),
    "magnet over the rim": ("outside-magnet", {"top_plate_outer_diameter": 90e-3 - MICROMETRE}),
    "dish beside the magnet": (
        "outside-magnet",
        DISH | {"back_plate_dish_diameter": 44e-3 - MICROMETRE},
    ),
    "chamfer short of its edge": ("outside-magnet", {"back_plate_chamfer": 6e-3 - MICROMETRE}),
    "gap short of the plate": (
        "outside-magnet",
        {"gap_depth": 6e-3 - MICROMETRE, "lip_step": 1e-3},
    ),
    "chamfer as long as its edge": ("outside-magnet", {"back_plate_chamfer": 6e-3}),
    "gap half a micrometre wide": ("inside-magnet", {"lip_step": 2.5995e-3}),
    "thin gap": ("outside-magnet", {"gap_width": 10 * MICROMETRE}),
    "vent short of the bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8e-3 - MICROMETRE},
    ),
    "plate short of the magnet": (
        "inside-magnet",
        {"magnet_outer_diameter": 31e-3 + MICROMETRE},
    ),
}


def built_or_refused(kind: str, changes: dict[str, Any]) -> Geometry | InvalidInput:
    """Return the changed example, or the error that refuses it."""
    try:
        return example(kind, **changes)
    except InvalidInput as error:
        return error


@pytest.mark.parametrize("name", NEAR)
def test_parts_a_micrometre_apart_are_meshed_or_refused(name: str) -> None:
    kind, changes = NEAR[name]
    outcome = built_or_refused(kind, changes)
    if isinstance(outcome, InvalidInput):
        assert re.search(r" must .*; received .", str(outcome))
    else:
        check_contract(outcome)
        check_mesh(outcome)
