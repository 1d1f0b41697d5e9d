"""The stated uncertainty on a small sample of random motors; ``coverage.py`` takes hundreds.

Source: this project's own finer reference, about five times smaller error, outer boundary
farther away.
"""

from __future__ import annotations

import numpy as np
import pytest

import motor
from geometries import InvalidInput
from motor.base.errors import SolveError
from motor.field.meshing import Sizing
from tests.random_motors import random_designs
from tests.verification.coverage import LOADED_REFERENCE, LOADS, Sample, loaded_samples, samples

MOTORS = 12
INSIDE = 0.85
"""95 % are inside over hundreds of motors; of 12 one may well be outside, two should not be."""
GENEROUS = 8.0
"""Stated over true, medians: 4 over hundreds of motors, at most twice that of 12."""


@pytest.fixture(scope="module")
def sample() -> list[Sample]:
    return [s for design in random_designs(99, MOTORS) for s in samples(design, LOADED_REFERENCE)]


@pytest.mark.parametrize(
    "quantity", ["Bl at rest", "largest Bl", "flux through the gap", "flux through the magnet"]
)
def test_true_error_lies_inside(sample: list[Sample], quantity: str) -> None:
    stated = np.array([s.stated for s in sample if s.quantity == quantity])
    error = np.array([s.error for s in sample if s.quantity == quantity])
    assert len(error) == MOTORS
    assert np.mean(error <= stated) >= INSIDE
    assert np.median(stated) <= GENEROUS * np.median(error)


def test_true_force_under_current_lies_inside() -> None:
    """Nine values of three motors; the ``coverage`` command takes more."""
    designs = random_designs(98, len(LOADS))
    found = [s for d, load in zip(designs, LOADS, strict=True) for s in loaded_samples(d, load)]
    assert len(found) == 3 * len(LOADS)
    assert sum(s.error <= s.stated for s in found) >= len(found) - 1


def test_refinement_meets_the_accuracy_and_the_truth() -> None:
    design = motor.starter("inside-magnet")
    fine = motor.solve(design, sizing=Sizing(0.2, 0.1, 0.4, 0.05, 4)).bl_curve.at_rest.value
    for accuracy in (5e-4, 1e-4, 3e-5):
        found = motor.solve(design, accuracy=accuracy).bl_curve.at_rest
        assert found.uncertainty <= accuracy * found.value
        assert abs(found.value - fine) <= 1.5 * found.uncertainty


@pytest.mark.parametrize("accuracy", [0.0, -1.0, 1.0, 1e-9])
def test_impossible_accuracy_is_refused(accuracy: float) -> None:
    with pytest.raises(InvalidInput, match="accuracy must lie between"):
        motor.solve(motor.starter("inside-magnet"), accuracy=accuracy)


def test_accuracy_out_of_reach_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("motor.field.solve.MOST_UNKNOWNS", 1000)
    with pytest.raises(SolveError, match=r"accuracy of 3e-05 is out of reach: with \d+ unknowns"):
        motor.solve(motor.starter("inside-magnet"), accuracy=3e-5)
