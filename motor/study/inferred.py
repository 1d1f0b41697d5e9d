"""A sample as inferred: unknowns before and after, residuals, and what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from motor.base.arrays import Bools, Floats
from motor.base.drawable import DrawablePage
from motor.base.program import origin
from motor.base.quantity import COLUMN_UNITS, ColumnUnit
from motor.results.impedance import HIGHEST
from motor.results.motor_result import MotorResult
from motor.study.measurements import Measurement, Measurements
from motor.study.neighbours import Neighbours
from motor.study.parameters import ENDINGS

__all__ = ["ENOUGH", "IMPROBABLE", "OUTLIER", "STEEL", "Fit", "Inferred", "Residuals", "scatters"]

OUTLIER = 4.0
"""Standard deviations from which on a point is called an outlier."""
SURPRISING, TELLING = 3.5, 0.95
"""Standard deviations by which estimates scatter from which on one is called surprising, and the
share of the prior deviation that must not be left for that."""
STEEL, OTHER_STEEL = "factors.steel", 2.0
"""The unknown of the steel's saturation, and the prior deviations from which on it does not look
like its grade: right grades go so far in at most one of 22 samples."""
IMPROBABLE = 1e-3
"""Probability below which structure in the residuals is told."""
WILD = 10.0
"""Standard deviations that half the residuals exceed where a table is likely misread."""
ENOUGH = 8
"""Points from which on scatter and outliers can be told."""
CHANCE = 6.0
"""Over the root of the number of points: how far above 1 scatter comes by chance, in one of a
thousand tables (drawn, of 8 to 200 points)."""
KNOWN, PARTLY = 0.5, 0.9
"""Posterior over prior deviation up to which an unknown is identifiable, and partly so."""


def scatters(scatter: float, points: int) -> bool:
    """Return whether points scatter more than stated, and not by chance."""
    return points >= ENOUGH and scatter > 1 + CHANCE / math.sqrt(points)


@dataclass(frozen=True)
class Inferred:
    """One unknown before and after the measurements, SI.

    Parameters
    ----------
    name, kind : str
        ``kind`` as of :class:`motor.study.parameters.Parameter`.
    prior, prior_deviation, estimate, deviation : float
    """

    name: str
    kind: str
    prior: float
    prior_deviation: float
    estimate: float
    deviation: float

    @property
    def unit(self) -> ColumnUnit:
        """The unit in which it is told."""
        return COLUMN_UNITS[ENDINGS.get(self.kind, "")]

    def record(self) -> dict[str, Any]:
        """Return it under names for scripts, values in its unit."""
        keys = ("prior", "prior_deviation", "estimate", "deviation")
        return {
            "name": self.name,
            "unit": self.unit.words or "1",
            **{key: self.unit.of_si(getattr(self, key)) for key in keys},
            "identifiable": self.identifiable,
            "verdict": self.verdict,
        }

    @property
    def left(self) -> float:
        """Posterior over prior deviation."""
        return self.deviation / self.prior_deviation

    @property
    def identifiable(self) -> bool:
        """Whether the measurements at least halve what is not known of it."""
        return self.left <= KNOWN

    @property
    def verdict(self) -> str:
        """Whether it can be known: "yes", "partly" or "no"."""
        return "yes" if self.identifiable else "partly" if self.left <= PARTLY else "no"

    @property
    def surprise(self) -> float:
        """How many prior deviations the estimate is from what was expected."""
        return (self.estimate - self.prior) / self.prior_deviation

    @property
    def pull(self) -> float:
        """The same over what it scatters by from sample to sample; 0 where little is known.

        Priors and noise as stated, estimates scatter by the root of 1 less the square of ``left``.
        """
        return self.surprise / math.sqrt(1 - self.left**2) if self.left < TELLING else 0.0


@dataclass(frozen=True)
class Residuals:
    """One measurement beside what the design and the inferred sample would read.

    Parameters
    ----------
    measurement : Measurement
        Without the points that were left out.
    before, after : (n,) array
        What would be read, SI; ``after`` includes the rig's inferred gain and zero.
    band : (n,) array
        Standard deviation of ``after`` by what is still unknown, SI.
    scaled : (n,) array
        Measured less after, over the standard deviation of a point, its error by the mesh included.
    probability : float
        Of as much smooth structure, if the model were right.
    scatter : float
        Robust scatter from point to point over the stated one.
    left_out : int
        Points beyond the coil's travel, or above HIGHEST.
    """

    measurement: Measurement
    before: Floats
    after: Floats
    band: Floats
    scaled: Floats
    probability: float
    scatter: float
    left_out: int

    @property
    def outliers(self) -> Bools:
        """Which points are outliers; none are named where residuals have structure."""
        limit = max(self.scatter, 1.0) if self.probability >= IMPROBABLE else np.inf
        return np.asarray(np.abs(self.scaled) > OUTLIER * limit)

    def record(self) -> dict[str, Any]:
        """Return what scripts may ask of it."""
        return {
            "name": self.measurement.name,
            "kind": self.measurement.kind,
            "points": len(self.scaled),
            "left_out": self.left_out,
            "outliers": int(self.outliers.sum()),
            "scatter_over_stated": self.scatter,
            "structure_probability": self.probability,
            "flags": self.flags(),
        }

    def flags(self) -> list[str]:
        """Return what is wrong with it, in words; nothing if all is well."""
        name, found = self.measurement.name, []
        if self.left_out:
            asked = " (is the unit right?)" if self.left_out > len(self.scaled) else ""
            beyond = (
                f"beyond {HIGHEST / 1e3:g} kHz"
                if "frequency" in self.measurement.along
                else ("beyond the coil's travel")
            )
            words = f"{self.left_out} points {beyond} are left out{asked}"
            found.append(f"{name}: {words}")
        if scatters(self.scatter, len(self.scaled)):
            found.append(
                f"{name}: points scatter {self.scatter:.2g} times as much as stated, and count "
                "that much less"
            )
        if self.probability < IMPROBABLE:
            wild = float(np.median(np.abs(self.scaled))) > WILD
            found.append(
                f"{name}: residuals have structure that no unknown explains (probability "
                f"{self.probability:.1g} if the model were right); its points count less"
                + (" (are its columns and their units right?)" if wild else "")
            )
        count = int(self.outliers.sum())
        if count:
            found.append(f"{name}: outliers, {count} of {len(self.scaled)} points")
        return found


@dataclass(frozen=True)
class Fit(DrawablePage):
    """A sample as inferred.

    Parameters
    ----------
    name : str
        The sample's.
    before, after : MotorResult
        As drawn, and as inferred.
    unknowns : tuple of Inferred
    rigs : tuple of Inferred
        Gains and zeros, "rig.gain" and "rig.offset".
    covariance : (p, p) array
        Of the unknowns over their prior deviations.
    residuals : tuple of Residuals
    sides : mapping of unknown to Neighbours
        The results to either side of ``after``.
    steps : int
        Gauss-Newton steps.
    settled : bool
        Whether they came to an end.
    measured : Measurements
    """

    name: str
    before: MotorResult
    after: MotorResult
    unknowns: tuple[Inferred, ...]
    rigs: tuple[Inferred, ...]
    covariance: Floats
    residuals: tuple[Residuals, ...]
    sides: Mapping[str, Neighbours]
    steps: int
    settled: bool
    measured: Measurements

    @property
    def correlation(self) -> Floats:
        """Correlations of the unknowns, (p, p)."""
        spread = np.sqrt(np.diag(self.covariance))
        return np.asarray(self.covariance / np.outer(spread, spread))

    def summary(self) -> dict[str, Any]:
        """Return the record that ``motor fit --json`` prints."""
        return {
            **origin(),
            "name": self.name,
            "design": self.before.design.name,
            "unknowns": [one.record() for one in self.unknowns],
            "rigs": [one.record() for one in self.rigs],
            "correlation": self.correlation.tolist(),
            "measurements": [one.record() for one in self.residuals],
            "steps": self.steps,
            "settled": self.settled,
            "warnings": self.warnings(),
        }

    def warnings(self) -> list[str]:
        """Return what a reader must know before using the estimate."""
        found = [flag for r in self.residuals for flag in r.flags()]
        if not self.settled:
            found.append("the search did not settle: the estimate is only the best one found")
        found += [
            f"{one.name} would be {abs(one.pull):.1f} standard deviations from what was "
            "expected: the model or a measurement may be wrong"
            for one in (*self.unknowns, *self.rigs)
            if abs(one.pull) > SURPRISING
        ]
        found += [
            "the steel does not look like its stated grade: it would saturate "
            f"{100 * abs(one.estimate / one.prior - 1):.2g} % "
            f"{'higher' if one.surprise > 0 else 'lower'}, {abs(one.surprise):.1f} times what was "
            "expected of one grade (a curve of another shape would show no better)"
            for one in self.unknowns
            if one.name == STEEL and abs(one.surprise) > OTHER_STEEL
        ]
        return found
