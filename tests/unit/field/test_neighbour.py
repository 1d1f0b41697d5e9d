"""A similar motor's field as a start: corner for corner, and the same result in fewer steps."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import motor
from motor.design.design import Design
from motor.field.neighbour import counterpart
from motor.field.partition import partition
from motor.results.motor_result import solve

KINDS = ("outside-magnet", "inside-magnet")


def changed(design: Design, **factors: float) -> Design:
    geometry = design.geometry
    lengths = {name: factor * getattr(geometry, name) for name, factor in factors.items()}
    return design.replace(geometry=dataclasses.replace(geometry, **lengths))


@pytest.mark.parametrize("kind", KINDS)
def test_corners_fall_on_corners(kind: str) -> None:
    design = motor.starter(kind)
    here, there = (
        partition(d.regions, d.geometry.gap)
        for d in (changed(design, magnet_thickness=1.1), design)
    )
    found = counterpart(here.corners.T, here, there).T
    order = [np.lexsort(c.round(7).T) for c in (found, there.corners)]
    np.testing.assert_allclose(found[order[0]], there.corners[order[1]], atol=2e-7)
    points = np.array([[1e-3, 20e-3, 0.05], [0.0, -5e-3, 0.02]])
    np.testing.assert_allclose(counterpart(points, there, there), points, atol=1e-12)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("uncertainty", [False, True])
def test_the_result_is_that_of_a_cold_solve(kind: str, uncertainty: bool) -> None:
    design = motor.starter(kind)
    near = solve(design, uncertainty=uncertainty)
    moved = changed(design, magnet_thickness=1.03)
    warm = solve(moved, uncertainty=uncertainty, warm_start=near)
    cold = solve(moved, uncertainty=uncertainty)
    assert warm.field.iterations <= 0.7 * cold.field.iterations
    size = float(cold.bl_curve.bl.max())
    np.testing.assert_allclose(warm.bl_curve.bl, cold.bl_curve.bl, rtol=0, atol=1e-8 * size)


def test_a_motor_of_another_kind_still_starts_a_solve() -> None:
    near, design = solve(motor.starter(KINDS[0])), motor.starter(KINDS[1])
    warm, cold = solve(design, warm_start=near), solve(design)
    assert warm.bl_curve.at_rest.value == pytest.approx(cold.bl_curve.at_rest.value, rel=1e-8)
