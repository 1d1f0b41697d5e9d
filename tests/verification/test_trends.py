"""Facts of the trade as trends.

Source of all but the last: common practice, no source.  Each compares two motors that differ in
one respect.  Ferrofluid: Entropy 16 (2014) 5891 measured a coil that was 24.5 % cooler after
10 000 s with 650 microlitres in the gap of a driver that is not ours.
"""

from __future__ import annotations

import dataclasses

import pytest

from geometries.inside_magnet import InsideMagnet
from geometries.outside_magnet import OutsideMagnet
from motor.design.design import Design, Materials
from motor.design.starters import starter
from motor.results.heat import heat
from motor.results.motor_result import MotorResult, read_off, solve
from tests.verification.checks import trend


@pytest.fixture(scope="module")
def short() -> MotorResult:
    return solve(starter("outside-magnet"))


@pytest.fixture(scope="module")
def tall(short: MotorResult) -> MotorResult:
    coil = dataclasses.replace(short.design.coil, winding_height=18e-3)
    return read_off(short.design.replace(coil=coil), short.field)


def test_taller_winding_of_the_same_wire(short: MotorResult, tall: MotorResult) -> None:
    """Longer stroke, more resistance and mass, less force per watt."""
    trend("82 % stroke, short over tall winding", *_strokes(short, tall))
    trend("resistance, short over tall winding", short.resistance, tall.resistance)
    trend("winding mass, short over tall winding", short.design.coil.mass, tall.design.coil.mass)
    trend(
        "Bl^2/Re, tall over short winding",
        tall.motor_constant.value,
        short.motor_constant.value,
    )


def _strokes(a: MotorResult, b: MotorResult) -> tuple[float, float]:
    return a.stroke_82.symmetric.value, b.stroke_82.symmetric.value


def test_neodymium_needs_a_fraction_of_the_ferrite(short: MotorResult) -> None:
    """A given gap field in the same gap: thin the neodymium magnet until it matches."""
    outside = short.design.geometry
    assert isinstance(outside, OutsideMagnet)
    target = short.gap_profile.mean.value
    low, high = 1e-3, 16e-3
    for _ in range(12):
        thickness = (low + high) / 2
        inside = InsideMagnet(
            magnet_outer_diameter=outside.pole_diameter - 1e-3,
            magnet_thickness=thickness,
            pole_plate_diameter=outside.pole_diameter,
            pole_plate_thickness=outside.gap_depth,
            cup_inner_diameter=outside.pole_diameter + 2 * outside.gap_width + 6e-3,
            cup_outer_diameter=outside.pole_diameter + 2 * outside.gap_width + 20e-3,
            floor_thickness=7e-3,
            lip_step=3e-3,
        )
        coil = dataclasses.replace(short.design.coil, winding_height=5e-3)
        materials = Materials(magnet="N42", steel="low-carbon-a")
        twin = solve(Design(geometry=inside, materials=materials, coil=coil))
        low, high = (thickness, high) if twin.gap_profile.mean.value < target else (low, thickness)
    assert twin.gap_profile.mean.value == pytest.approx(target, rel=5e-3)
    volumes = [
        r.masses["magnet"] / r.design.materials.magnet_of("magnet").density for r in (twin, short)
    ]
    trend("magnet volume, neodymium over ferrite", volumes[0], volumes[1], 0.25)
    trend("motor mass, neodymium over ferrite", twin.mass_of(), short.mass_of(), 0.5)


def test_outside_magnet_leaves_room_for_a_taller_winding() -> None:
    """Same envelope, 90 mm by 33 mm, same small coil: free travel below the gap is longer.

    Outside the coil the magnet's own height is clearance; inside it the floor and the height
    of the magnet that a small pole needs take it away.
    """
    outside = starter("outside-magnet")
    inside = Design(
        geometry=InsideMagnet(
            magnet_outer_diameter=29e-3,
            magnet_thickness=8e-3,
            pole_plate_diameter=31e-3,
            pole_plate_thickness=6e-3,
            cup_inner_diameter=40e-3,
            cup_outer_diameter=90e-3,
            floor_thickness=16e-3,
            lip_step=2.9e-3,
        ),
        materials=Materials(magnet="N42", steel="low-carbon-a"),
        coil=outside.coil,
    )
    trend("free travel, inside over outside magnet", inside.contact.inward, outside.contact.inward)


def test_ferrofluid_cools_the_coil(short: MotorResult) -> None:
    """By how much depends on the driver; the published one had 0.755 of the temperature."""
    rules = dataclasses.replace(short.design.heat, duration=1e4)
    filled = dataclasses.replace(rules, ferrofluid="filled")
    celsius = []
    for each in (filled, rules):
        one = dataclasses.replace(short, design=short.design.replace(heat=each))
        coil = heat(one, 15.0).at_end("coil-winding")
        assert coil is not None
        celsius.append(coil.value - 273.15)
    trend("coil temperature in degC after 10 000 s, with over without ferrofluid", *celsius)
