"""The field on two nested meshes: its boundaries, its error and what is stated of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from geometries import AXIAL_UP, Gap, Region, Role
from motor import starter
from motor.base.arrays import Floats
from motor.field.field import BEYOND, BOUNDARY_ERROR, LOST, ErrorModel, Field, lost_spread, prolong
from motor.field.meshing import Sizing
from motor.field.newton import Solver
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve, LinearSteel, steel_named
from motor.results.motor_result import MotorResult, solve
from tests.random_motors import random_designs
from tests.unit.design.drawn import box
from tests.verification.coverage import LOADED_REFERENCE, samples

MM = 1e-3
KINDS = ("inside-magnet", "outlines", "outside-magnet")
Solved = Callable[[str], MotorResult]


@pytest.mark.parametrize("kind", KINDS)
def test_a_quadratic_potential_survives_prolongation(solved: Solved, kind: str) -> None:
    """Second-order elements hold any quadratic exactly, on either mesh."""
    field = solved(kind).field

    def quadratic(r: Floats, z: Floats) -> Floats:
        result: Floats = r * (3.0 + 7.0 * r - 5.0 * z)
        return result

    coarse, fine = field.coarse.system, field.fine.system
    given = quadratic(*coarse.basis.doflocs)
    expected = quadratic(*fine.basis.doflocs)[fine.free]
    (found,) = prolong(field.coarse, fine, given)
    np.testing.assert_allclose(found, expected, atol=1e-12 * np.abs(expected).max())


@pytest.fixture(scope="module")
def small() -> Callable[..., Field]:
    """Return what solves a small motor of one steel; its goal is the flux through the gap."""

    def solved_field(curve: BHCurve, **options: Any) -> Field:
        return solve_field(
            (
                Region("pole", Role.STEEL, box(0, 10, -14, 2.5)),
                Region("magnet", Role.MAGNET, box(14, 30, -14, -2.5), magnetisation=AXIAL_UP),
                Region("plate", Role.STEEL, box(11.5, 30, -2.5, 2.5)),
                Region("back", Role.STEEL, box(0, 30, -19, -14)),
            ),
            Gap(10 * MM, 11.5 * MM, -2.5 * MM, 2.5 * MM),
            dict.fromkeys(("pole", "plate", "back"), curve),
            {"magnet": MagnetState((0.0, 0.4), 1.07)},
            **options,
        )

    return solved_field


def goal_of(field: Field) -> tuple[float, float]:
    """Return the field's goal on the fine and on the coarse mesh."""
    fine, coarse = (
        float(field.goal(level) @ level.solution.reduced) for level in (field.fine, field.coarse)
    )
    return fine, coarse


def test_shares_of_the_error_add_up_to_the_change(small: Callable[..., Field]) -> None:
    """Exactly so in linear steel, where the fine solution's error is orthogonal to the coarse."""
    field = small(LinearSteel("linear", 0.0, "", 500.0).curve())
    fine, coarse = goal_of(field)
    assert field.error_shares.sum() == pytest.approx(fine - coarse, rel=1e-2)


def test_sizes_of_the_shares_are_those_of_two_errors(small: Callable[..., Field]) -> None:
    """A product of two errors: their sizes add up to no more than some changes of the goal."""
    field = small(LinearSteel("linear", 0.0, "", 500.0).curve())
    fine, coarse = goal_of(field)
    sizes = np.abs(field.error_shares).sum()
    assert sizes < 5 * abs(fine - coarse)


def test_tangent_of_saturated_steel_is_the_slope_of_its_force(small: Callable[..., Field]) -> None:
    """Difference quotient of the steel's force in one direction, along another."""
    level = small(steel_named("low-carbon-a").curve()).fine
    system = level.system
    rng = np.random.default_rng(3)
    at = level.solution.reduced
    x, y = (at * rng.uniform(0.5, 1.5, at.shape) for _ in range(2))
    step = 1e-7
    ahead, behind = (system.steel_force(system.steel_at(at + k * x)) for k in (step, -step))
    quotient = (ahead - behind) / (2 * step)
    shares = system.tangent_shares(*(system.expand(v) for v in (at, x, y)))
    steel = np.concatenate([system.mesh.triangles_of(n) for n in ("pole", "plate", "back")])
    assert shares[steel].sum() == pytest.approx(float(y @ quotient), rel=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_default_mesh_is_as_good_as_promised(solved: Solved, kind: str) -> None:
    result = solved(kind)
    at_rest = result.bl_curve.at_rest
    assert at_rest.uncertainty < 1e-3 * at_rest.value
    assert result.field.fine.solution.iterations <= 6
    assert result.field.coarse.solution.iterations <= 13


@pytest.mark.parametrize("kind", KINDS)
def test_mesh_is_judged_by_the_force_factor_at_rest(solved: Solved, kind: str) -> None:
    result = solved(kind)
    fine, _ = goal_of(result.field)
    assert abs(fine) == pytest.approx(result.bl_curve.at_rest.value, rel=1e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_no_flux_passes_through_the_axis(solved: Solved, kind: str) -> None:
    """A disc of no radius holds none: A is 0 there, not merely small."""
    level = solved(kind).field.fine
    on_axis = level.system.basis.doflocs[0] == 0.0
    assert on_axis.sum() > 20
    assert np.abs(level.potential[on_axis]).max() == 0.0


def test_accuracy_asked_for_is_reached_with_few_unknowns() -> None:
    """Refined where the error is: a tenth of the default's uncertainty, for few unknowns."""
    result = solve(starter("outside-magnet"), accuracy=5e-5)
    at_rest = result.bl_curve.at_rest
    assert at_rest.uncertainty <= 5e-5 * at_rest.value
    assert result.field.unknowns < 40_000


def test_stated_uncertainty_covers_the_true_error() -> None:
    """Against finer meshes; meant to hold for 95 % of all motors."""
    found = [s for d in random_designs(7, 6) for s in samples(d, LOADED_REFERENCE)]
    assert len(found) > 100
    assert np.mean([s.error <= s.stated for s in found]) > 0.9


@pytest.mark.parametrize("kind", KINDS)
def test_open_boundary_lies_where_its_error_was_measured(solved: Solved, kind: str) -> None:
    """Two and a half times the motor's reach: the share BOUNDARY_ERROR holds for that radius."""
    result = solved(kind)
    corners = np.array([p for region in result.design.regions for p in region.outline])
    middle = (corners[:, 1].min() + corners[:, 1].max()) / 2
    reach = np.hypot(corners[:, 0], corners[:, 1] - middle).max()
    r, z = result.field.fine.system.mesh.mesh.p
    assert np.hypot(r, z - middle).max() == pytest.approx(2.5 * reach, rel=1e-6)


def test_what_magnets_have_lost_widens_every_uncertainty() -> None:
    """By hand: half the change of the share lost, and 0.002 of its root, relative."""
    spread = lost_spread(0.04, 0.05)
    assert spread == pytest.approx(0.5 * 0.01 + 2e-3 * 0.2)
    wider = ErrorModel(lost=spread).bound(3.0, 3.0)
    assert wider == pytest.approx(math.hypot(LOST * spread, BOUNDARY_ERROR) * 3.0)
    hot = solve(replace(starter("inside-magnet"), temperature=420.0)).field
    assert hot.goal_lost.value > 1e-3
    assert hot.errors.lost == pytest.approx(hot.goal_lost.uncertainty)


def test_saturated_steel_widens_every_uncertainty(solved: Solved) -> None:
    """By what the triangles' shares in the change of Bl leave of it, over Bl."""
    field = solved("outside-magnet").field
    fine, coarse = (float(field.goal(x) @ x.solution.reduced) for x in (field.fine, field.coarse))
    left = abs(fine - coarse - field.error_shares.sum()) / abs(fine)
    assert field.errors.beyond == pytest.approx(left)
    wider = ErrorModel(beyond=left).bound(3.0, 3.0)
    assert wider == pytest.approx(math.hypot(BEYOND * left, BOUNDARY_ERROR) * 3.0)


def test_open_boundary_is_as_harmless_as_stated(small: Callable[..., Field]) -> None:
    """Farther away or nearer it changes the gap's flux by no more than the share stated."""
    curve = steel_named("low-carbon-a").curve()
    sizing = Sizing(at_gap=0.15, away=0.1, growth=0.25, largest=0.06, layers=4)
    near, default, far = (
        goal_of(small(curve, sizing=sizing, outer_ratio=k))[0] for k in (1.5, 2.5, 5.0)
    )
    assert abs(default / far - 1) < BOUNDARY_ERROR
    assert abs(near / far - 1) < 2 * BOUNDARY_ERROR


def test_a_field_solved_from_its_own_solution_can_be_asked_for_its_tangent(
    solved: Solved,
) -> None:
    """Derivatives and the coil's own field take it, however few steps there were."""
    system = solved("inside-magnet").field.coarse.system
    first, second = Solver(system), Solver(system)
    found = first.solve()
    assert len(second.solve(found.reduced).residuals) == 1
    first.set_tangent(found.reduced)
    answers = [solver.solve_tangent(system.load) for solver in (first, second)]
    np.testing.assert_allclose(*answers, rtol=1e-12)
