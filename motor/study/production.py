"""What scatters in a production: tolerances, lots that shift together, correlations.

A tolerance is what each motor scatters by on its own.  A lot shifts all its motors alike, in one
parameter or in several at once, beside the tolerances.  Two tolerances of one turned part may be
correlated: coefficients are those of the deviations themselves, as in JCGM 100:2008 (Guide to the
expression of uncertainty in measurement) clause 5.2.  Correlated deviations are drawn as normal
scores (a Gaussian copula); so that evenly spread ones come out with the coefficient stated, theirs
is 2 sin(pi r / 6) between two of them (K. Pearson, 1907, for ranks) and r sqrt(pi / 3) between one
and a normal one; from memory, and tests hold the draws against both.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.study.parameters import TOGETHER

__all__ = [
    "LOT",
    "SIGMAS",
    "Correlation",
    "Drawn",
    "Lot",
    "Production",
    "Tolerance",
    "law",
]

LOT = "lots."
"""Before the name of a lot where it stands among causes."""
SIGMAS = {"uniform": math.sqrt(3.0), "normal": 3.0}
"""Widths in standard deviations, by shape."""
MIXED = math.sqrt(3 / math.pi)
"""Largest correlation between an evenly spread and a normal deviation."""
ROUNDING = 1e-9
"""Eigenvalues of a correlation matrix not further below 0 than this are 0."""
HIGHEST_POWER = 16


def law(shape: str, unit: Floats) -> Floats:
    """Return deviations over their width, -1 to 1, for shares of the probability."""
    if shape == "uniform":
        return np.asarray(2 * unit - 1)
    low, high = ndtr([-3.0, 3.0])
    return np.asarray(ndtri(low + unit * (high - low)) / 3)


def _demand_shape(shape: str, field: str) -> None:
    if shape not in SIGMAS:
        raise InvalidInput(field, "be uniform or normal", repr(shape))


@dataclass(frozen=True)
class Tolerance:
    """How far a parameter may be from its nominal value.

    Parameters
    ----------
    name : str
        Dotted.
    width : float
        Largest deviation to either side, SI.
    shape : str
        "uniform", or "normal" with the width as three standard deviations, cut off there.
    """

    name: str
    width: float
    shape: str = "uniform"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.width) and self.width > 0):
            raise InvalidInput(f"tolerance of {self.name}", "be greater than 0", self.width)
        _demand_shape(self.shape, f"tolerance of {self.name}")


@dataclass(frozen=True)
class Lot:
    """A shift that all motors of a lot share: one number draws all its parameters.

    Parameters
    ----------
    name : str
    widths : mapping of dotted name to float
        Largest shift to either side, SI; of the other sign where a parameter shifts against the
        rest.
    shape : str
        As of a tolerance, from lot to lot.
    """

    name: str
    widths: Mapping[str, float]
    shape: str = "uniform"

    def __post_init__(self) -> None:
        _demand_shape(self.shape, f"shape of lot {self.name}")
        if not self.widths:
            raise InvalidInput(f"lot {self.name}", "shift at least one parameter", "none")
        for name, width in self.widths.items():
            if not (math.isfinite(width) and width):
                raise InvalidInput(f"shift of {name} by lot {self.name}", "not be 0", width)


@dataclass(frozen=True)
class Correlation:
    """Two tolerances whose deviations go together, or against each other below 0."""

    first: str
    second: str
    coefficient: float

    def __post_init__(self) -> None:
        between = f"correlation of {self.first} and {self.second}"
        if not -1 <= self.coefficient <= 1:
            raise InvalidInput(between, "be from -1 to 1", self.coefficient)
        if self.first == self.second:
            raise InvalidInput(between, "be between two tolerances", self.first)


@dataclass(frozen=True)
class Drawn:
    """Motors drawn from a production (n of them).

    Parameters
    ----------
    own : (n, t) array
        Deviations over their widths, -1 to 1, of each tolerance.
    lots : (n, l) array
        Shifts of each motor's lot over their widths, -1 to 1.
    """

    own: Floats
    lots: Floats


@dataclass(frozen=True)
class Production:
    """All that scatters in a production.

    Parameters
    ----------
    tolerances : tuple of Tolerance
    lots : tuple of Lot
    correlations : tuple of Correlation
        Between tolerances.
    power : int
        2^power motors are drawn.
    seed : int
        Of the draws.
    """

    tolerances: tuple[Tolerance, ...]
    lots: tuple[Lot, ...] = ()
    correlations: tuple[Correlation, ...] = ()
    power: int = 8
    seed: int = 0

    def __post_init__(self) -> None:
        if not self.tolerances and not self.lots:
            raise InvalidInput("tolerances", "name at least one parameter", "none")
        if isinstance(self.power, bool) or not isinstance(self.power, int):
            raise InvalidInput("power", "be a whole number", repr(self.power))
        if not 2 <= self.power <= HIGHEST_POWER:
            limit = f"be a whole number from 2 to {HIGHEST_POWER}"
            raise InvalidInput("power", limit, repr(self.power))
        names = [t.name for t in self.tolerances]
        for what, all_of in (("tolerances", names), ("lots", [lot.name for lot in self.lots])):
            twice = {name for name in all_of if all_of.count(name) > 1}
            if twice:
                raise InvalidInput(what, "name each once", ", ".join(sorted(twice)))
        self._demand_known(names)
        for matrix, of in ((self._matrix(scores=False), ""), (self._matrix(scores=True), SCORED)):
            least, way = (a[..., 0] for a in np.linalg.eigh(matrix))
            if least < -ROUNDING:
                culprits = [n for n, w in zip(names, way, strict=True) if abs(w) > 0.1]
                limit = f"be possible at once, their matrix without a negative eigenvalue{of}"
                said = f"{least:.3g} between {', '.join(culprits)}"
                raise InvalidInput("correlations", limit, said)

    def _demand_known(self, names: list[str]) -> None:
        pairs = set()
        for one in self.correlations:
            for name in (one.first, one.second):
                if name not in names:
                    limit = f"be between tolerances of this file ({near_names(name, names)})"
                    raise InvalidInput("correlations", limit, repr(name))
            pair = frozenset((one.first, one.second))
            if pair in pairs:
                limit = "name each pair once"
                raise InvalidInput("correlations", limit, f"{one.first} and {one.second}")
            pairs.add(pair)

    @property
    def parameters(self) -> tuple[str, ...]:
        """Dotted names of all that scatters: tolerances, then what only lots shift."""
        shifted = (name for lot in self.lots for name in lot.widths)
        return tuple(dict.fromkeys([*(t.name for t in self.tolerances), *shifted]))

    @functools.cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Numbers of the tolerances that are correlated with one another; most stand alone."""
        parts = [{k} for k in range(len(self.tolerances))]
        names = [t.name for t in self.tolerances]
        for one in self.correlations:
            if one.coefficient:
                ends = {names.index(one.first), names.index(one.second)}
                joined = ends.union(*(p for p in parts if p & ends))
                parts = [p for p in parts if not p & ends] + [joined]
        return tuple(sorted(tuple(sorted(part)) for part in parts))

    @property
    def causes(self) -> tuple[str, ...]:
        """What scatters independently: tolerances, correlated ones joined, and lots."""
        names = [t.name for t in self.tolerances]
        own = [TOGETHER.join(names[k] for k in group) for group in self.groups]
        return (*own, *(LOT + lot.name for lot in self.lots))

    def members(self, cause: str) -> tuple[str, ...]:
        """Return the dotted names of a cause's parameters."""
        for lot in self.lots:
            if cause == LOT + lot.name:
                return tuple(lot.widths)
        return tuple(cause.split(TOGETHER))

    def columns(self, drawn: Drawn) -> Iterator[Floats]:
        """Yield what was drawn for each cause, (n, members)."""
        yield from (drawn.own[:, group] for group in self.groups)
        yield from (drawn.lots[:, [k]] for k in range(len(self.lots)))

    def of_cause(self, drawn: Drawn) -> Iterator[Drawn]:
        """Yield for each cause the same motors with this cause alone."""
        nothing, no_shift = np.zeros_like(drawn.own), np.zeros_like(drawn.lots)
        for group in self.groups:
            own = nothing.copy()
            own[:, group] = drawn.own[:, group]
            yield Drawn(own, no_shift)
        for k in range(len(self.lots)):
            shift = no_shift.copy()
            shift[:, k] = drawn.lots[:, k]
            yield Drawn(nothing, shift)

    def deviations(self, drawn: Drawn) -> dict[str, Floats]:
        """Return how far each parameter is from its nominal value, SI."""
        found = {t.name: t.width * drawn.own[:, k] for k, t in enumerate(self.tolerances)}
        for k, lot in enumerate(self.lots):
            for name, width in lot.widths.items():
                found[name] = found.get(name, 0.0) + width * drawn.lots[:, k]
        return found

    def reach(self, name: str) -> float:
        """Return the largest deviation of a parameter to either side, SI."""
        own = sum(t.width for t in self.tolerances if t.name == name)
        return own + sum(abs(lot.widths.get(name, 0.0)) for lot in self.lots)

    def standard_deviation(self, name: str) -> float:
        """Return a parameter's standard deviation over all lots, SI, as if nothing were cut off."""
        parts = [t.width / SIGMAS[t.shape] for t in self.tolerances if t.name == name]
        parts += [lot.widths.get(name, 0.0) / SIGMAS[lot.shape] for lot in self.lots]
        return math.hypot(*parts)

    def draw(self, power: int | None = None, seed: int | None = None) -> Drawn:
        """Draw 2^power motors by scrambled Sobol points; the production's own unless told."""
        from scipy.stats import qmc

        count = len(self.tolerances)
        rng = np.random.default_rng(self.seed if seed is None else seed)
        sobol = qmc.Sobol(count + len(self.lots), rng=rng)
        return self.of_shares(sobol.random_base2(self.power if power is None else power))

    def of_shares(self, unit: Floats) -> Drawn:
        """Return the motors of independent shares of the probability, (n, tolerances + lots)."""
        count = len(self.tolerances)
        unit = unit.copy()
        mixing = self._matrix(scores=True)
        for group in (list(g) for g in self.groups if len(g) > 1):
            values, vectors = np.linalg.eigh(mixing[np.ix_(group, group)])
            root = vectors * np.sqrt(np.maximum(values, 0.0)) @ vectors.T
            score = ndtri(np.clip(unit[:, group], 1e-15, 1 - 1e-15))
            unit[:, group] = ndtr(score @ root)
        shapes = [*(t.shape for t in self.tolerances), *(lot.shape for lot in self.lots)]
        all_of = np.stack([law(s, u) for s, u in zip(shapes, unit.T, strict=True)], axis=1)
        return Drawn(all_of[:, :count], all_of[:, count:])

    def _matrix(self, *, scores: bool) -> Floats:
        """Return the correlation matrix of the deviations or of their normal scores."""
        names = [t.name for t in self.tolerances]
        matrix = np.eye(max(len(names), 1))
        for one in self.correlations:
            i, j = names.index(one.first), names.index(one.second)
            value, shapes = one.coefficient, {self.tolerances[k].shape for k in (i, j)}
            if len(shapes) == 2 and abs(value) > MIXED:
                limit = f"be at most {MIXED:.3f} where one is uniform and one normal"
                raise InvalidInput(
                    f"correlation of {one.first} and {one.second}", limit, one.coefficient
                )
            if scores and len(shapes) == 2:
                value /= MIXED
            elif scores and shapes == {"uniform"}:
                value = 2 * math.sin(math.pi * value / 6)
            matrix[i, j] = matrix[j, i] = value
        return matrix


SCORED = " (nor that of their normal scores: take normal shapes, or smaller coefficients)"
