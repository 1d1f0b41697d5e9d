"""A descent on functions whose optimum is known, and what it does where there is none."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from motor.study.descent import Descent, Local


def local(point: np.ndarray, most: float) -> Local:
    """Return x + 2 y, to be made least where x y >= most / 100 and x + y <= 1.2."""
    x, y = point
    return Local(
        np.array([x + 2 * y]),
        np.array([100 * x * y / most - 1, 1.2 - x - y]),
        np.array([[1.0, 2.0]]),
        np.array([[100 * y / most, 100 * x / most], [-1.0, -1.0]]),
        np.array([True, True]),
    )


def run(start: tuple[float, float], most: float, **options: float) -> tuple[Descent, int]:
    descent = Descent(np.array(start), spare=options.get("spare", 0.0), enough=1e-6, most=60)
    count = 0
    while descent.place is not None:
        count += 1
        descent.told(local(descent.place, most))
    return descent, count


@pytest.mark.parametrize("start", [(0.2, 0.2), (0.7, 0.4), (1.0, 0.1), (0.1, 1.0)])
def test_it_ends_at_the_optimum_from_anywhere(start: tuple[float, float]) -> None:
    """Lagrange: x = sqrt(2 c), y = sqrt(c / 2) for x y = c."""
    descent, count = run(start, 20.0)
    assert descent.here is not None
    assert descent.here.objective == pytest.approx(2 * np.sqrt(0.4), rel=1e-4)
    assert descent.at == pytest.approx([np.sqrt(0.4), np.sqrt(0.1)], abs=5e-3)
    assert descent.here.miss < 1e-5
    assert count < 30


def test_out_of_reach_it_makes_the_largest_miss_least() -> None:
    """On the diagonal x = y: (x y / c - 1) and (1.2 - x - y) miss by the same."""
    descent, _ = run((0.3, 0.9), 60.0)
    assert descent.here is not None
    x = np.roots([1 / 0.6, 2.0, -2.2]).max()
    assert descent.here.miss == pytest.approx(2 * x - 1.2, abs=2e-3)


def test_spare_is_kept() -> None:
    descent, _ = run((0.7, 0.4), 20.0, spare=0.01)
    assert descent.here is not None
    assert descent.here.slacks[0] == pytest.approx(0.01, abs=1e-3)


def test_what_cannot_be_built_makes_steps_shorter() -> None:
    """Nothing left of x = 0.65, where the optimum is: it ends beside it, not at its start."""
    descent = Descent(np.array([0.9, 0.5]), spare=0.0, enough=1e-6, most=60)
    while descent.place is not None:
        x, _ = descent.place
        descent.told(local(descent.place, 20.0) if x > 0.65 else None)
    assert descent.here is not None
    assert descent.here.objective < 0.65 + 2 * 0.2 / 0.65 + 0.02
    lost = Descent(np.array([0.9, 0.5]), spare=0.0, enough=1e-6, most=60)
    lost.told(None)
    assert lost.place is None


def test_steps_grow_where_the_models_keep_their_promise() -> None:
    """X least where x >= 0.95: both linear, so each step gains what it promised, from afar too."""
    descent = Descent(np.array([0.02]), spare=0.0, enough=1e-6, most=60)
    count, one = 0, np.array([[1.0]])
    while descent.place is not None:
        x, count = descent.place, count + 1
        descent.told(Local(x, x - 0.95, one, one, np.array([True])))
    assert descent.at == pytest.approx([0.95], abs=1e-3)
    assert count <= 8


def test_a_parameter_without_derivatives_stays() -> None:
    descent = Descent(np.array([0.9, 0.5]), spare=0.0, enough=1e-6, most=60)
    while descent.place is not None:
        found = local(descent.place, 20.0)
        descent.told(dataclasses.replace(found, known=np.array([True, False])))
    assert descent.at == pytest.approx([0.4, 0.5], abs=5e-3)


def test_the_largest_of_several_is_made_least() -> None:
    """Of x, 2 y and 0.3 with x + y >= 0.9: x = 2 y = 0.6."""
    descent = Descent(np.array([0.9, 0.8]), spare=0.0, enough=1e-6, most=40)
    while descent.place is not None:
        x, y = descent.place
        descent.told(
            Local(
                np.array([x, 2 * y, 0.3]),
                np.array([x + y - 0.9]),
                np.array([[1.0, 0.0], [0.0, 2.0], [0.0, 0.0]]),
                np.array([[1.0, 1.0]]),
                np.array([True, True]),
            )
        )
    assert descent.at == pytest.approx([0.6, 0.3], abs=1e-5)
