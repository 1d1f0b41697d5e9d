"""Limits of a test at the end of the line, against closed forms and drawn units."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from motor.base.errors import InvalidInput
from motor.study.end_of_line import INDUCTANCE, Limit, guarded, read_limits, recommended

LIMIT = Limit("bl_at_rest_Tm", 5.7, 6.3, 0.05)
MEAN, SPREAD = 5.95, 0.15


def test_shares_are_those_of_drawn_units() -> None:
    rng = np.random.default_rng(2)
    true = MEAN + SPREAD * rng.standard_normal(400_000)
    read = true + LIMIT.deviation * rng.standard_normal(len(true))
    found = guarded(LIMIT, 1.0, MEAN, SPREAD)
    passing = (read >= found.low) & (read <= found.high)
    good = (true >= LIMIT.least) & (true <= LIMIT.most)
    assert found.passing == pytest.approx(passing.mean(), abs=2e-3)
    assert found.escapes == pytest.approx((passing & ~good).mean(), abs=3e-4)
    assert found.rejected == pytest.approx((good & ~passing).mean(), abs=2e-3)


def test_a_perfect_station_lets_nothing_escape() -> None:
    exact = Limit("bl_at_rest_Tm", 5.7, 6.3, 1e-9)
    found = guarded(exact, 0.0, MEAN, SPREAD)
    ends = norm.cdf((np.array([5.7, 6.3]) - MEAN) / SPREAD)
    assert found.passing == pytest.approx(ends[1] - ends[0], rel=1e-6)
    assert found.escapes < 1e-6


def test_a_one_sided_limit() -> None:
    """Half of the units are bad where the mean lies on the limit, and half of those read right."""
    found = guarded(Limit("x", 5.0, math.inf, 0.1), 0.0, 5.0, 0.1)
    assert found.passing == pytest.approx(0.5)
    assert found.escapes == pytest.approx(1 / 8, rel=1e-6)  # orthant of two equal normals


def test_the_recommended_guard_band_lets_through_what_was_asked() -> None:
    assert recommended(LIMIT, MEAN, SPREAD).escapes == pytest.approx(LIMIT.escapes, rel=1e-6)
    safe = Limit("x", 0.0, 12.0, 0.05)
    assert recommended(safe, MEAN, SPREAD).guard == 0


def test_limits_that_cross_pass_nothing() -> None:
    found = guarded(Limit("x", 5.9, 6.0, 0.1), 2.0, MEAN, SPREAD)
    assert (found.passing, found.escapes) == (0.0, 0.0)


@pytest.mark.parametrize(
    "row",
    [
        {"least": 5.0},
        {"deviation": 0.1},
        {"least": 6.0, "most": 5.0, "deviation": 0.1},
        {"least": 5.0, "deviation": 0.0},
        {"least": 5.0, "deviation": 0.1, "escapes": 2},
        {"least": "5", "deviation": 0.1},
    ],
)
def test_bad_limits_are_refused(row: dict[str, Any]) -> None:
    with pytest.raises(InvalidInput):
        read_limits({"bl_at_rest_Tm": row}, ["bl_at_rest_Tm"])


def test_one_side_may_be_open() -> None:
    row = {"most": 0.9, "deviation": 0.01}
    (found,) = read_limits({INDUCTANCE: row}, [INDUCTANCE])
    assert (found.least, found.most) == (-math.inf, 0.9)
