"""Shapes that cannot be: each is refused with the length that is wrong and its limit."""

from __future__ import annotations

import pytest

from geometries import InvalidInput
from tests.unit.geometries.options import DISH, SECOND, example, sleeve_in

REFUSED = {
    "chamfer longer than its edge": (
        "outside-magnet",
        {"back_plate_chamfer": 6.1e-3},
        "back_plate_chamfer must be smaller than the edge it cuts, 6 mm; received 6.1 mm",
    ),
    "pole chamfer through the vent": (
        "outside-magnet",
        {"vent_diameter": 29e-3, "pole_chamfer": 2e-3},
        "pole_chamfer must be smaller than the edge it cuts, 1 mm; received 2 mm",
    ),
    "gap deeper than the plate": (
        "outside-magnet",
        {"gap_depth": 7e-3},
        "gap_depth must be at most top_plate_thickness, 6 mm; received 7 mm",
    ),
    "step without room": (
        "outside-magnet",
        {"lip_step": 1e-3},
        "lip_step must be 0 mm where gap_depth equals top_plate_thickness; received 1 mm",
    ),
    "thick plate without a step": (
        "outside-magnet",
        {"top_plate_thickness": 9e-3},
        "lip_step must be greater than 0 mm",
    ),
    "vent as wide as the pole": (
        "outside-magnet",
        {"vent_diameter": 31e-3},
        "vent_diameter must be smaller than the pole at its narrowest, 31 mm; received 31 mm",
    ),
    "undercut without height": (
        "outside-magnet",
        {"pole_undercut": 1e-3},
        "pole_undercut_height must be greater than 0 mm",
    ),
    "undercut into the back plate": (
        "outside-magnet",
        {"pole_undercut": 1e-3, "pole_undercut_height": 15.1e-3},
        "pole_undercut_height must end above the back plate, within 15 mm; received 15.1 mm",
    ),
    "dish through the back plate": (
        "outside-magnet",
        DISH | {"back_plate_dish": 6e-3},
        "back_plate_dish must leave some of the back plate's 6 mm; received 6 mm",
    ),
    "magnet with no width": (
        "outside-magnet",
        {"magnet_inner_diameter": 90e-3},
        "magnet_outer_diameter must be greater than magnet_inner_diameter, 90 mm; received 90 mm",
    ),
    "magnet around the pole's radius": (
        "outside-magnet",
        {"magnet_inner_diameter": 30e-3},
        "yoke and magnet must not overlap",
    ),
    "vent wider than the magnet's bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8.1e-3},
        "vent_diameter must be at most magnet_bore_diameter, 8 mm; received 8.1 mm",
    ),
    "magnet into the cup's wall": (
        "inside-magnet",
        {"magnet_outer_diameter": 38e-3},
        "cup and magnet must not overlap",
    ),
    "lip down to the floor": (
        "inside-magnet",
        {"lip_height": 11e-3},
        "lip_height must end above the cup's floor, below 11 mm; received 11 mm",
    ),
    "rise as tall as the lip": (
        "inside-magnet",
        {"cup_rise": 5e-3},
        "cup_rise must leave the lip beside the pole plate, below 5 mm; received 5 mm",
    ),
    "gap of no width": (
        "inside-magnet",
        {"lip_step": 2.7e-3},
        "pole_plate_diameter must be smaller than the diameter inside the lip",
    ),
    "second magnet inside its own bore": (
        "inside-magnet",
        SECOND | {"magnet_bore_diameter": 10e-3, "second_magnet_diameter": 10e-3},
        "second_magnet_diameter must be greater than magnet_bore_diameter, 10 mm; received 10 mm",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_ugly_corner_is_refused(name: str) -> None:
    kind, changes, message = REFUSED[name]
    with pytest.raises(InvalidInput) as caught:
        example(kind, **changes)
    assert message in str(caught.value)


def test_sleeve_that_fills_the_gap_is_refused() -> None:
    full = sleeve_in("outside-magnet", outer_diameter=34.2e-3)
    with pytest.raises(InvalidInput, match=r"sleeves in the gap must leave .*1\.6 mm free"):
        example("outside-magnet", rings=(full,))


def test_floating_ring_is_refused_with_its_distance() -> None:
    floating = sleeve_in("outside-magnet", inner_diameter=32e-3, outer_diameter=33e-3)
    with pytest.raises(InvalidInput, match=r"sleeve must touch the rest .* 0\.5 mm to yoke"):
        example("outside-magnet", rings=(floating,))


def test_two_rings_of_one_name_are_refused() -> None:
    low = sleeve_in("outside-magnet", height=2e-3)
    high = sleeve_in("outside-magnet", bottom=0.0, height=2e-3)
    with pytest.raises(InvalidInput, match="region name must be used once only; received 'sleeve'"):
        example("outside-magnet", rings=(low, high))
