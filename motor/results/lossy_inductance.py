"""Classical short forms of a coil's lossy inductance, fitted, with what they miss.

L2-R2: an inductance in series with another that has a resistance across it (common practice);
fractional: K (j w)^n (W. M. Leach, JAES 50, 2002, 442 to 450), with or without an inductance in
series.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from motor.base.arrays import Floats

__all__ = ["LossyFit", "lossy_fits"]

Form = Callable[[Floats, np.ndarray], np.ndarray]


@dataclass(frozen=True)
class LossyFit:
    """A form fitted to an impedance without the winding's own resistance.

    Parameters
    ----------
    form : str
    values : mapping of str to float
        Names carry the units.
    misfit : float
        Root mean square of |fit - Z| / |Z| over the frequencies.
    """

    form: str
    values: dict[str, float]
    misfit: float

    def summary(self) -> dict[str, str | float]:
        """Return the fit as one flat record."""
        return {"form": self.form, **self.values, "misfit": self.misfit}


def _l2_r2(p: Floats, s: np.ndarray) -> np.ndarray:
    series, parallel, resistance = np.exp(p)
    return np.asarray(s * series + s * parallel * resistance / (resistance + s * parallel))


def _fractional(p: Floats, s: np.ndarray) -> np.ndarray:
    return np.asarray(np.exp(p[0]) * s ** p[1])


def _with_series(p: Floats, s: np.ndarray) -> np.ndarray:
    return np.asarray(s * np.exp(p[2]) + _fractional(p[:2], s))


def lossy_fits(frequency: Floats, impedance: np.ndarray) -> list[LossyFit]:
    """Fit each form to an impedance.

    Parameters
    ----------
    frequency : (n,) array
        Hertz, above 0; four or more.
    impedance : (n,) complex array
        Ohm, without the winding's own resistance.
    """
    s = 2j * np.pi * np.asarray(frequency, float)
    henry = (impedance / s).real
    high, size = np.log(henry[-1]), np.abs(impedance)
    rest = np.log(max(henry[0] - henry[-1], 1e-6 * henry[0]))
    corner = np.log(np.sqrt(np.abs(s[0] * s[-1]))) + rest
    middle = len(s) // 2
    power = np.log(size[middle]) - 0.7 * np.log(np.abs(s[middle]))
    forms: list[tuple[str, Form, list[float], tuple[str, ...]]] = [
        ("L2-R2", _l2_r2, [high, rest, corner], ("L1_mH", "L2_mH", "R2_ohm")),
        ("fractional", _fractional, [power, 0.7], ("K_ohm_s_to_n", "n")),
        (
            "series L and fractional",
            _with_series,
            [power, 0.6, high - 1],
            ("K_ohm_s_to_n", "n", "L_mH"),
        ),
    ]
    found = []
    for form, law, start, names in forms:

        def missed(p: Floats, law: Form = law) -> Floats:
            error = (law(p, s) - impedance) / size
            return np.concatenate([error.real, error.imag])

        best = least_squares(missed, start, x_scale="jac")
        values = [
            float(p) if name == "n" else float(np.exp(p)) * (1e3 if name.endswith("mH") else 1.0)
            for name, p in zip(names, best.x, strict=True)
        ]
        misfit = float(np.sqrt(2 * best.cost / len(s)))
        found.append(LossyFit(form, dict(zip(names, values, strict=True)), misfit))
    return found
