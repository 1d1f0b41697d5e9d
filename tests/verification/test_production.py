"""Correlated deviations and guarded limits against published examples and another library.

- JCGM 100:2008, Guide to the expression of uncertainty in measurement: the example H.2, resistance
  and reactance from voltage, current and phase read together (tables H.2 to H.4), and equation 13.
- JCGM 106:2012, The role of measurement uncertainty in conformity assessment, 9.3 and 9.5: shares
  of all units that pass though outside and fail though inside, of a normal production and a normal
  error, from the bivariate normal law as scipy integrates it.

Tables and clauses are from memory; the printed correlations and uncertainties follow from the
readings, which a test of the readings would show.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from motor.study.guarding import Station, passed
from motor.study.production import Correlation, Production, Tolerance
from tests.verification.checks import check, outside

CUT = 0.98658
"""Standard deviation of a normal law cut off at three of them, over that of the whole law."""
READINGS = {
    "V": [5.007, 4.994, 5.005, 4.990, 4.999],
    "I": [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
    "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
}
"""JCGM 100:2008, table H.2: volts, amperes and radians, read together."""
GUIDE = outside("JCGM 100:2008, example H.2, table H.4")
GUARD = outside("JCGM 106:2012, 9.3 and 9.5; bivariate normal law by scipy")


def test_resistance_and_reactance_of_the_guide() -> None:
    """The table prints three digits; normal laws here are cut off at three deviations."""
    read, upper = np.array(list(READINGS.values())), np.triu_indices(3, 1)
    spread, together = read.std(axis=1, ddof=1) / math.sqrt(5), np.corrcoef(read)[upper]
    assert together == pytest.approx([-0.36, 0.86, -0.65], abs=6e-3)  # table H.2
    pairs = zip(itertools.combinations(READINGS, 2), together, strict=True)
    production = Production(
        tuple(Tolerance(n, 3 * u, "normal") for n, u in zip(READINGS, spread, strict=True)),
        correlations=tuple(Correlation(*pair, r) for pair, r in pairs),
    )
    off = production.deviations(production.draw(12))
    volts, amperes, phase = (m + off[n] for n, m in zip(READINGS, read.mean(axis=1), strict=True))
    impedance = volts / amperes
    parts = {"R": impedance * np.cos(phase), "X": impedance * np.sin(phase), "Z": impedance}
    for (name, part), printed in zip(parts.items(), (0.071, 0.295, 0.236), strict=True):
        got = part.std() / CUT
        check(f"standard uncertainty of {name}, ohm", GUIDE, printed, got, 6e-4, relative=False)


@pytest.mark.parametrize("guard", [0.0, 1.0, 2.0])
def test_escapes_and_rejects_of_a_normal_production(guard: float) -> None:
    """Motors at the middles of 4096 equal shares; what is left is how they stand at the limits."""
    spread, error, low, high, motors = 1.0, 0.3, -1.5, 1.2, 4096
    own = spread * norm.ppf((np.arange(motors) + 0.5) / motors)
    both = multivariate_normal(cov=[[spread**2, spread**2], [spread**2, spread**2 + error**2]])

    def box(good: tuple[float, float], read: tuple[float, float]) -> float:
        return float(both.cdf([good[1], read[1]], lower_limit=[good[0], read[0]]))

    ends, everything = (low + guard * error, high - guard * error), (-9.0, 9.0)
    passing, correct = box(everything, ends), box((low, high), ends)
    found = passed({"y": own}, {"y": (low, high)}, {"y": Station(error)}, guard)
    shares = {
        "good": (box((low, high), everything), found.good),
        "passing": (passing, found.passing),
        "escapes": (passing - correct, found.escapes),
        "rejects": (box((low, high), everything) - correct, found.rejected),
    }
    for name, (expected, got) in shares.items():
        what = f"share of {name}, guard band of {guard:g} deviations"
        check(what, GUARD, expected, got, 2 / motors, relative=False)
