"""Derivatives of a motor and of its mirror image: alike, but what leans leans the other way.

The identity follows from Maxwell's equations alone; no number of this project's is beside it.
"""

from __future__ import annotations

import dataclasses

import pytest

import motor
from geometries import Corner, Dimension, DrawnPart, Outlines, Role
from motor.study.derivatives import Derivatives

SIZES = {"pole": 12e-3, "air": 1.6e-3, "ring": 35e-3, "high": 14e-3, "floor": 6e-3, "lip": 2e-3}
TOP = 3.0
"""Half the gap's depth, mm."""
ALIKE = ("bl_at_rest_Tm", "gap_flux_mWb", "mean_gap_flux_density_T", "stroke_82_mm")
SWAPPED = (
    ("stroke_82_inward_mm", "stroke_82_outward_mm"),
    ("stroke_70_inward_mm", "stroke_70_outward_mm"),
)


def design(up: float) -> motor.Design:
    """Return a ring magnet between plates, the pole taller than the upper one.

    Upside down with ``up`` -1, the coil's rest position too.
    """

    def part(name: str, role: Role, *points: tuple[str, str], way: str = "") -> DrawnPart:
        corners = tuple(Corner((r, f"{up:g} * ({z})")) for r, z in points)
        outline = corners if up > 0 else corners[::-1]
        return DrawnPart(name, role, outline, magnetisation=way or None)

    low, bottom = f"-{TOP} - high", f"-{TOP} - high - floor"
    geometry = Outlines(
        gap_formulas=("pole", "pole + air", -TOP, TOP),
        dimensions=tuple(Dimension(name, size) for name, size in SIZES.items()),
        parts=(
            part(
                "yoke",
                Role.STEEL,
                *(("0", bottom), ("ring", bottom), ("ring", low), ("pole", low)),
                *(("pole", f"{TOP} + lip"), ("0", f"{TOP} + lip")),
            ),
            part(
                "magnet",
                Role.MAGNET,
                *(("pole + 6", low), ("ring", low), ("ring", f"-{TOP}"), ("pole + 6", f"-{TOP}")),
                way="up",
            ),
            part(
                "top_plate",
                Role.STEEL,
                *(("pole + air", f"-{TOP}"), ("ring - 2", f"-{TOP}")),
                *(("ring - 2", f"{TOP}"), ("pole + air", f"{TOP}")),
            ),
        ),
    )
    starter = motor.starter("outside-magnet")
    coil = dataclasses.replace(starter.coil, inner_diameter=24.6e-3, rest_position=up * 0.7e-3)
    return starter.replace(geometry=geometry, coil=coil)


@pytest.fixture(scope="module")
def both() -> tuple[Derivatives, Derivatives]:
    upright, turned = (motor.derivatives(motor.solve(design(up))) for up in (1.0, -1.0))
    return upright, turned


def names() -> list[str]:
    return [*(f"geometry.{name}" for name in SIZES), "factors.remanence", "coil.winding_height"]


@pytest.mark.parametrize("name", names())
def test_a_motor_upside_down(both: tuple[Derivatives, Derivatives], name: str) -> None:
    upright, turned = both
    pairs = [(key, key, 1.0) for key in ALIKE]
    pairs += [pair for one, other in SWAPPED for pair in ((one, other, 1.0), (other, one, 1.0))]
    pairs.append(("bl_asymmetry_at_82_percent", "bl_asymmetry_at_82_percent", -1.0))
    for key, there, sign in pairs:
        a, b = upright.of(key, name), turned.of(there, name)
        assert a.derivative == pytest.approx(
            sign * b.derivative, abs=a.uncertainty + b.uncertainty + 1e-12
        ), key


def test_both_are_known_well(both: tuple[Derivatives, Derivatives]) -> None:
    """To a fiftieth of the strongest dimension's, per relative change."""
    sizes = {f"geometry.{name}": 1e3 * size for name, size in SIZES.items()}
    for found in both:
        rows = [(size, found.of(ALIKE[0], name)) for name, size in sizes.items()]
        largest = max(size * abs(row.derivative) for size, row in rows)
        assert all(size * row.uncertainty < 0.02 * largest for size, row in rows)


def test_a_coil_moved_outwards_is_one_moved_inwards(
    both: tuple[Derivatives, Derivatives],
) -> None:
    rows = [one.of("bl_at_rest_Tm", "coil.rest_position") for one in both]
    doubt = sum(row.uncertainty for row in rows)
    assert rows[0].derivative == pytest.approx(-rows[1].derivative, abs=doubt)
    assert abs(rows[0].derivative) > 2 * doubt
