"""Fixed points of maps that creep."""

from __future__ import annotations

import numpy as np
import pytest

from motor.base.arrays import Floats
from motor.field.fixed_point import fixed_point


def test_a_creeping_map_is_settled_in_a_few_evaluations() -> None:
    """Repeated, this map needs about 350 evaluations to move by less than 1e-10."""
    factors, goal = np.linspace(0.0, 0.94, 40), np.linspace(1.0, 2.0, 40)
    evaluations = 0

    def image(x: Floats) -> Floats:
        nonlocal evaluations
        evaluations += 1
        result: Floats = goal + factors * (x - goal) + 0.01 * np.sin(x - goal)
        return result

    found, moved = fixed_point(image, np.zeros(40), weights=np.ones(40), tolerance=1e-10, most=200)
    assert moved <= 1e-10
    np.testing.assert_allclose(found, goal, atol=1e-8)
    assert evaluations < 100


def test_gives_up_and_says_how_far_it_still_moves() -> None:
    found, moved = fixed_point(
        lambda x: x + 1.0, np.zeros(3), weights=np.ones(3), tolerance=1e-3, most=4
    )
    assert moved == pytest.approx(1.0)
    assert np.isfinite(found).all()


def test_nothing_to_settle() -> None:
    found, moved = fixed_point(
        lambda x: x, np.empty(0), weights=np.empty(0), tolerance=1e-3, most=4
    )
    assert found.shape == (0,)
    assert moved == 0.0
