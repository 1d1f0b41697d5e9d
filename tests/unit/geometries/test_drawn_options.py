"""What the options of the drawings do, by hand: plates, lips, undercut, dish, second magnet."""

from __future__ import annotations

import dataclasses

import pytest

from motor import starter
from motor.results.motor_result import solve
from tests.unit.geometries.options import example

MM = 1e-3


@pytest.mark.parametrize(
    ("position", "bottom", "top"), [("top", -6, 3), ("middle", -4.5, 4.5), ("bottom", -3, 6)]
)
def test_gap_at_the_top_has_its_plate_below_it(position: str, bottom: float, top: float) -> None:
    """A plate of 9 mm around a gap of 6 mm; the gap is from -3 to 3 mm."""
    geometry = example(
        "outside-magnet",
        top_plate_thickness=9 * MM,
        lip_step=1 * MM,
        lip_position=position,
    )
    plate = next(r for r in geometry.regions() if r.name == "top_plate")
    heights = [z for _, z in plate.outline]
    assert (min(heights) / MM, max(heights) / MM) == pytest.approx((bottom, top))
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    assert max(z for _, z in yoke.outline) / MM == pytest.approx(top + 3)


def test_undercut_is_as_tall_as_drawn() -> None:
    geometry = example(
        "outside-magnet",
        pole_undercut=1 * MM,
        pole_undercut_height=5 * MM,
    )
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    neck = [z / MM for r, z in yoke.outline if r == pytest.approx(14.5 * MM)]
    assert sorted(neck) == pytest.approx([-8, -3])


def test_dish_is_a_recess_beside_the_pole() -> None:
    """The back plate's upper face lies at -18 mm, the dish 2 mm lower out to 21 mm radius."""
    geometry = example(
        "outside-magnet",
        back_plate_dish=2 * MM,
        back_plate_dish_diameter=42 * MM,
    )
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    shape = {(round(r / MM, 6), round(z / MM, 6)) for r, z in yoke.outline}
    assert {(15.5, -20.0), (21.0, -20.0), (21.0, -18.0)} <= shape


def test_lip_and_plate_of_the_inside_magnet_face_each_other() -> None:
    """A plate of 5 mm, a lip of 3 mm that rises 1 mm above it: 2 mm of them overlap."""
    geometry = example(
        "inside-magnet",
        lip_height=3 * MM,
        cup_rise=1 * MM,
    )
    assert geometry.gap.depth == pytest.approx(2 * MM)
    plate = next(r for r in geometry.regions() if r.name == "pole_plate")
    heights = [z / MM for _, z in plate.outline]
    assert (min(heights), max(heights)) == pytest.approx((-4, 1))
    cup = next(r for r in geometry.regions() if r.name == "cup")
    lip = [z / MM for r, z in cup.outline if r == pytest.approx(16.6 * MM)]
    assert sorted(lip) == pytest.approx([-1, 2])


def test_second_magnet_pushes_the_flux_into_the_gap() -> None:
    """It opposes the first: with it the gap's field rises, and both magnets' flux adds up."""
    base = starter("inside-magnet")
    helped = dataclasses.replace(
        base.geometry,
        second_magnet_thickness=3 * MM,
        second_magnet_diameter=27 * MM,
    )
    one, two = (solve(base.replace(geometry=g)) for g in (base.geometry, helped))
    assert two.bl_curve.at_rest.value > 1.02 * one.bl_curve.at_rest.value
    assert two.flux_budget.magnet.value > 1.1 * one.flux_budget.magnet.value
