"""Steel curves against the published models that their tables come from.

Sources: TEAM workshop problem 13 (T. Nakata, N. Takahashi and K. Fujiwara, COMPEL 11(3), 1992,
345-369; 14(2/3), 1995, 91-101): a table up to 1.8 T, above it B = mu0 H + a H^2 + b H + c up to
2.22 T and B = mu0 H + 2.16 T beyond; TEAM workshop problem 20: a table up to 2.3 T, beyond it
B = mu0 H + 2.16 T.  As printed neither pair of branches meets: problem 13's formula ends at a
polarisation of 2.1586 T, problem 20's table at 2.1304 T.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from motor.base.constants import MU0
from motor.materials import steel_named
from tests.verification.checks import check, outside, transcription

FORMULA_13 = outside("TEAM workshop problem 13, published formula")
TEAM_13 = transcription("TEAM workshop problem 13, published curve")
TEAM_20 = transcription("TEAM workshop problem 20, published curve")

ROW = 1e-6
"""The smooth curve passes through the rows, up to the interpolation on its fine grid."""
FORMULA = 3e-3
"""B at a given H between the rows; measured 1.6e-3 at 2.18 T, where the rows, 0.05 T apart, are
far apart for so sharp a bend, and 4e-4 below 2.1 T."""
SATURATION = 1e-3
"""2.1586 T of the branch that meets the table against the printed 2.16 T: 7e-4."""

ROWS_13 = {0.1: 191.0, 0.5: 247.0, 1.0: 342.0, 1.5: 933.0, 1.6: 1934.0, 1.7: 4993.0, 1.8: 9423.0}
ROWS_20 = {0.1: 153.0, 0.5: 285.0, 1.0: 555.0, 1.5: 2130.0, 1.8: 10100.0, 2.0: 26300.0, 2.3: 135e3}


def field(name: str, flux_density: float) -> float:
    """Return H in A/m of a built-in steel."""
    return float(steel_named(name).curve().field_and_slope(np.array([flux_density]))[0][0])


@pytest.mark.parametrize("b", ROWS_13)
def test_rows_of_problem_13(b: float) -> None:
    check(f"low-carbon-a, H at {b} T (A/m)", TEAM_13, ROWS_13[b], field("low-carbon-a", b), ROW)


@pytest.mark.parametrize("b", ROWS_20)
def test_rows_of_problem_20(b: float) -> None:
    check(f"low-carbon-b, H at {b} T (A/m)", TEAM_20, ROWS_20[b], field("low-carbon-b", b), ROW)


@pytest.mark.parametrize("b", [1.83, 1.88, 1.93, 1.98, 2.03, 2.08, 2.13, 2.18])
def test_formula_of_problem_13(b: float) -> None:
    p, q = -2.381e-10, MU0 + 2.327e-5
    h = (-q + math.sqrt(q * q - 4 * p * (1.590 - b))) / (2 * p)
    got = brentq(lambda x: field("low-carbon-a", x) - h, b - 0.05, b + 0.05, xtol=1e-12)
    check(f"low-carbon-a, B at {h:.0f} A/m (T)", FORMULA_13, b, got, FORMULA)


@pytest.mark.parametrize("b", [2.3, 2.5, 3.0])
def test_saturation_of_problem_13(b: float) -> None:
    got = b - MU0 * field("low-carbon-a", b)
    check(f"low-carbon-a, polarisation at {b} T (T)", TEAM_13, 2.16, got, SATURATION)


def test_saturation_of_problem_20() -> None:
    got = 3.0 - MU0 * field("low-carbon-b", 3.0)
    check("low-carbon-b, polarisation at 3 T (T)", TEAM_20, 2.16, got, SATURATION)
