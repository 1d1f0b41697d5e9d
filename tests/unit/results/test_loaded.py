"""The force on the coil with its own current."""

from __future__ import annotations

import pytest

from geometries import AXIAL_UP, Gap, Region, Role
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.results.loaded import loaded_coil
from tests.unit.design.drawn import box, drawn_coil

MM = 1e-3


def test_coil_below_a_free_magnet_is_pushed_the_other_way() -> None:
    """Mirror symmetry: the same current pushes outwards at the upper face, inwards at the lower.

    Positive current is the one that pushes outwards at rest, here at the upper face.
    """
    body = Region("magnet", Role.MAGNET, box(0, 15, -7.5, 7.5), magnetisation=AXIAL_UP)
    gap = Gap(16 * MM, 18 * MM, -10 * MM, 10 * MM)
    field = solve_field([body], gap, {}, {"magnet": MagnetState((0.0, 1.2), 1.05)})
    one = drawn_coil(inner_diameter=33 * MM, winding_height=6 * MM, rest_position=7.5 * MM)
    upper, lower = (loaded_coil(field, one, x, 2.0) for x in (0.0, -15 * MM))
    assert upper.force.value > 0
    assert lower.force_factor.value == pytest.approx(-upper.force_factor.value, rel=5e-3)
    assert lower.reluctance_force.value == pytest.approx(0.0, abs=1e-3 * upper.force.value)
