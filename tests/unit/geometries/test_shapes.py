"""Sections of parts: what a region may be, its volume and mass, pieces to draw with."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from geometries import Gap, InvalidInput, Point, Region, Ring, Role, radial_room, volume
from geometries.outlines import chamfer
from motor.results.motor_result import MotorResult
from tests.unit.design.drawn import box

MM = 1e-3
Solved = Callable[[str], MotorResult]


@pytest.mark.parametrize(
    ("outline", "expected"),
    [
        (box(0, 10, 0, 20), math.pi * 10**2 * 20),
        (box(22, 45, 0, 15), math.pi * (45**2 - 22**2) * 15),
        (((0.0, 0.0), (6 * MM, 0.0), (0.0, 9 * MM)), math.pi * 6**2 * 9 / 3),
    ],
    ids=["cylinder", "ring", "cone"],
)
def test_volume_of_a_body_of_revolution(outline: tuple[Point, ...], expected: float) -> None:
    assert volume(Region("part", Role.STEEL, outline)) == pytest.approx(expected * MM**3)


def test_mass_of_a_ring_magnet(solved: Solved) -> None:
    """90 x 44 x 15 mm of ferrite at 4900 kg/m^3: 355.8 g."""
    result = solved("outside-magnet")
    expected = math.pi / 4 * (0.090**2 - 0.044**2) * 0.015 * 4900
    assert result.masses["magnet"] == pytest.approx(expected)
    assert result.summary()["magnet_mass_g"] == pytest.approx(355.8, rel=1e-3)


def test_free_radii_end_at_the_nearest_faces() -> None:
    """Parts at 0 to 10 and 20 to 25 mm radius, and one at 14 to 30 mm far above."""
    parts = [
        Region("core", Role.STEEL, box(0, 10, -5, 5)),
        Region("shell", Role.STEEL, box(20, 25, -5, 5)),
        Region("roof", Role.STEEL, box(14, 30, 8, 9)),
    ]
    assert radial_room(parts, 15 * MM, -3 * MM, 3 * MM) == pytest.approx((10 * MM, 20 * MM))
    assert radial_room(parts, 12 * MM, 7 * MM, 10 * MM) == pytest.approx((0.0, 14 * MM))


def test_chamfer_takes_its_size_off_both_edges() -> None:
    cut = chamfer(box(0, 10, 0, 5), (10 * MM, 5 * MM), 1 * MM, "chamfer")
    np.testing.assert_allclose(
        np.array(cut) / MM, [(0, 0), (10, 0), (10, 4), (9, 5), (0, 5)], atol=1e-9
    )


def test_cap_lies_on_top_of_its_sleeve() -> None:
    ring = Ring(
        name="cap",
        inner_diameter=31 * MM,
        outer_diameter=31.4 * MM,
        bottom=-3 * MM,
        height=9 * MM,
        cover=0.2 * MM,
        cover_inner_diameter=8 * MM,
    )
    corners = {(round(r / MM, 6), round(z / MM, 6)) for r, z in ring.outline()}
    expected = {(15.5, -3), (15.7, -3), (15.7, 6.2), (4, 6.2), (4, 6), (15.5, 6)}
    assert corners == expected


def test_gap_lies_on_the_grid_of_the_outlines() -> None:
    """Rounded to a nanometre: no noise of halved diameters, and no coarser."""
    gap = Gap(0.1 + 0.2, 0.300123456789, -0.0012345678, 1.0000000004)
    assert gap.inner_radius == 0.3
    assert gap.outer_radius == 0.300123457
    assert gap.bottom == -0.001234568
    assert gap.top == 1.0


def test_zero_length_edges_and_collinear_points_vanish() -> None:
    clean = [(0.0, 0.0), (2e-3, 0.0), (2e-3, 1e-3), (0.0, 1e-3)]
    ugly = [
        (0.0, 0.0),
        (1e-3, 0.0),
        (2e-3, 0.0),
        (2e-3, 1e-13),
        (2e-3, 0.4e-3),
        (2e-3, 1e-3),
        (2e-3, 1e-3),
        (0.0, 1e-3),
        (0.0, 0.5e-3),
    ]
    region = Region("part", Role.STEEL, tuple(ugly))
    assert region.outline == tuple(clean)


@pytest.mark.parametrize(
    ("outline", "limit"),
    [
        ([(0.0, 0.0), (1e-3, 0.0)], "have a thickness in both directions"),
        ([(0.0, 0.0), (1e-3, 0.0), (2e-3, 0.0)], "have a thickness in both directions"),
        ([(1e-3, 0.0), (2e-3, 0.0), (2e-3, 1e-10), (1e-3, 1e-10)], "have a thickness"),
        ([(-1e-3, 0.0), (1e-3, 0.0), (1e-3, 1e-3)], "stay at radii of 0 or more"),
        ([(math.nan, 0.0), (1e-3, 0.0), (1e-3, 1e-3)], "consist of finite numbers"),
    ],
)
def test_outline_that_is_no_section_is_refused(outline: list[Point], limit: str) -> None:
    with pytest.raises(InvalidInput, match=limit):
        Region("part", Role.STEEL, tuple(outline))


@pytest.mark.parametrize("name", ["air", "Part", "", "2nd", "a-b", "a b", "ä"])
def test_region_name_is_a_lower_case_identifier(name: str) -> None:
    outline = ((0.0, 0.0), (1e-3, 0.0), (1e-3, 1e-3))
    with pytest.raises(InvalidInput, match=r"region name must be .*; received '"):
        Region(name, Role.STEEL, outline)
