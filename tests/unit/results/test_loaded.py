"""The force on the coil with its own current."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import AXIAL_UP, Gap, InvalidInput, Region, Role
from motor.design.coil import Coil
from motor.design.starters import starter
from motor.field.field import FieldOnMesh
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.results.loaded import (
    carried,
    coil_load,
    force_goal,
    heating_rate,
    loaded_coil,
    loaded_mesh,
)
from motor.results.motor_result import MotorResult, solve
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


@pytest.fixture(scope="module")
def woofer() -> MotorResult:
    return solve(starter("outside-magnet"))


def linkage(level: FieldOnMesh, coil: Coil, middle: float, current: float) -> float:
    """Return the flux linkage in weber, positive as the magnets' is at positive current."""
    unit = coil_load(level, coil, middle, coil.turns_in_series)
    solution = level.solver.solve(level.solution.reduced, extra_load=current * unit)
    return 2 * math.pi * float(unit @ solution.reduced)


def test_force_is_the_slope_of_the_coenergy(woofer: MotorResult) -> None:
    """F = d/dx of the integral of linkage over current, at constant current.

    H. H. Woodson and J. R. Melcher, Electromechanical Dynamics, part I, 1968, section 3.1 (from
    memory).  Central differences over the coil's place, Gauss points over the current.
    """
    coil, x, current, step = woofer.design.coil, 2 * MM, 12.0, 0.25 * MM
    places = np.array([x - step, x + step])
    level = carried(woofer.field.fine, loaded_mesh(woofer.field, coil, places).finer())
    points, weights = np.polynomial.legendre.leggauss(3)
    rest = force_goal(coil, coil.rest_position)(woofer.field.fine)
    sense = math.copysign(1.0, float(rest @ woofer.field.fine.solution.reduced))
    found = woofer.loaded(x, current)
    for amperes, estimate in ((current, found.force), (-current, found.force_reversed)):
        half = sense * amperes / 2
        coenergy = [
            half
            * sum(
                w * linkage(level, coil, coil.rest_position + at, half * (1 + p))
                for p, w in zip(points, weights, strict=True)
            )
            for at in places
        ]
        slope = (coenergy[1] - coenergy[0]) / (2 * step)
        assert slope == pytest.approx(estimate.value, rel=3e-3)


def test_refined_force_is_as_sure_as_asked_for(woofer: MotorResult) -> None:
    first = woofer.loaded(2 * MM, 5.0)
    share = 0.5 * first.force.uncertainty / first.force.value
    second = woofer.loaded(2 * MM, 5.0, accuracy=share)
    assert second.force.uncertainty <= share * second.force.value
    assert abs(second.force.value - first.force.value) <= first.force.uncertainty


def test_parts_of_the_force_add_up(woofer: MotorResult) -> None:
    found = woofer.loaded(1 * MM, 8.0)
    back = woofer.loaded(1 * MM, -8.0)
    assert found.odd_force.value + found.reluctance_force.value == pytest.approx(found.force.value)
    assert back.force.value == pytest.approx(found.force_reversed.value, rel=1e-6)
    assert back.force_factor.value == pytest.approx(found.force_factor.value, rel=1e-6)


def test_a_current_that_melts_the_winding_is_refused(woofer: MotorResult) -> None:
    with pytest.raises(InvalidInput, match="melt the winding"):
        woofer.loaded(0.0, 1e6)
    coil = woofer.design.coil
    hot = math.sqrt(200.0 / heating_rate(coil, 1.0))
    assert "200 K each second" in woofer.loaded(0.0, hot).notes[0]
    assert woofer.loaded(0.0, hot / 2).notes == []
    watts = 4.0 * coil.resistance()
    assert heating_rate(coil, 2.0) * coil.mass / 8890 * 3e6 == pytest.approx(watts)
