"""Steps of a search with contours: each can draw whatever the one before it could."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from geometries import Contour
from geometries.redrawn import divided, redrawn
from motor.design.reading import read_design
from motor.study.contours import free_contours
from motor.study.problem import Problem
from motor.study.refining import halved, refinements
from motor.study.target import Target
from tests.unit.study.plans import DESIGNS

REST = "coil.rest_position"
TARGET = Target(bl_least=5.0)


def problem(count: int, *, free: bool = True, square: bool = False) -> Problem:
    design = read_design(DESIGNS / "door_woofer_ferrite.toml")
    drawing = divided(redrawn(design.geometry), "yoke", 5, count)
    contour = Contour("yoke", tuple(range(6, 6 + count)), 2e-3, square)
    ready, ranges = free_contours(design.replace(geometry=drawing), [contour])
    more = {REST: (-1e-3, 1e-3)} if free else {}
    return Problem(ready, TARGET, more | ranges, contours=(contour,))


def test_points_are_halved_each_among_the_next() -> None:
    assert halved(3) == [[0, 1, 2]]
    assert halved(8) == [[3, 7], [1, 3, 5, 7], list(range(8))]
    assert halved(12) == [[3, 7, 11], [1, 3, 5, 7, 9, 11], list(range(12))]


@pytest.mark.parametrize("count", [2, 5, 7])
def test_a_step_draws_what_the_one_before_it_drew(count: int) -> None:
    asked = problem(count)
    steps = refinements(asked)
    assert len(steps[0].leads) == 1
    assert len(steps[-1].leads) == len(asked.free)
    rng = np.random.default_rng(1)
    for before, after in itertools.pairwise(steps):
        unit = before.lifted(rng.random(len(before.leads)))
        assert after.lifted(after.lowered(unit)) == pytest.approx(unit, abs=1e-12)


def test_points_between_those_that_move_lie_on_straight_cuts() -> None:
    asked = problem(7)
    few = refinements(asked)[1]
    unit = few.lifted(np.full(len(few.leads), 0.25))
    low, high = np.array(list(asked.free.values())).T
    values = dict(zip(asked.free, low + unit * (high - low), strict=True))
    outline = np.array(asked.plan.build(values).regions[0].outline[4:13])
    for k in (1, 3, 5, 7):  # midway between its neighbours
        assert outline[k] == pytest.approx((outline[k - 1] + outline[k + 1]) / 2, abs=2e-9)
    assert not np.allclose(outline[2], (outline[0] + outline[4]) / 2)


def test_without_other_parameters_it_begins_with_few_points_and_without_contours_it_is_one() -> (
    None
):
    steps = refinements(problem(5, free=False))
    assert [len(s.leads) for s in steps] == [4, 10]
    assert not steps[0].plain.any()
    plain = Problem(
        read_design(DESIGNS / "door_woofer_ferrite.toml"), TARGET, {REST: (-1e-3, 1e-3)}
    )
    (only,) = refinements(plain)
    assert only.lifted(np.array([0.3])) == pytest.approx([0.3])
    assert only.plain.all()
