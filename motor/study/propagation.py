"""Tolerances by derivatives: what one solve says of a production, beside motors drawn at random.

A figure is its nominal value and a sum of effects, one of each parameter.  What leaves the field
as it is (the coil) is read off over its whole range, everything else follows its first and second
derivative, figures next to corners the first alone; a parameter without one is solved at both
ends.  Straight effects of correlated deviations come to equations 13 and 16 of JCGM 100:2008, Guide
to the expression of uncertainty in measurement; the note to its clause 5.1.2 has the second order.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.results.motor_result import MotorResult, read_off, solve
from motor.study.differencing import NEXT_TO_CORNERS, sloped
from motor.study.guarding import Limits
from motor.study.neighbours import neighbours
from motor.study.parameters import Draft
from motor.study.production import Drawn, Production
from motor.study.second_order import kinked
from motor.study.tolerance import STILL, Scatter

__all__ = ["Effect", "Propagation", "propagate"]

POINTS = 17
"""Places over a tolerance's range at which a coil is read off."""
POWER = 12
"""2^POWER motors are drawn from the sum of effects; each costs next to nothing."""
LOTS = 6
"""2^LOTS lots of 2^POWER motors each tell how lots differ."""
APART = 0.15
"""Share by which a standard deviation differs from the sampled one before that is said, and by
which a share of the variance does, of all."""


@dataclass(frozen=True)
class Effect:
    """What one parameter's deviation changes a figure by.

    Parameters
    ----------
    places, change : (k,) array
        Deviations in SI and the figure's changes, in its unit; between them straight lines.
    slope, bend : float or None
        First and second derivative, in place of these; None for the lines.
    """

    places: Floats
    change: Floats
    slope: float | None = None
    bend: float = 0.0

    def __call__(self, deviation: Floats) -> Floats:
        """Return the changes at deviations (SI)."""
        if self.slope is None:
            return np.asarray(np.interp(deviation, self.places, self.change))
        return np.asarray(self.slope * deviation + self.bend / 2 * deviation**2)


@dataclass(frozen=True)
class Propagation:
    """Figures of a production by derivatives.

    Parameters
    ----------
    production : Production
    nominal : mapping of key to float
    effects : mapping of key to mapping of parameter to Effect
    scatters : mapping of key to Scatter
        Mean, spread, the range of 95 % and variance shares of each figure.
    drawn : mapping of key to (2^POWER,) array
        The same motors' figures.
    """

    production: Production
    nominal: Mapping[str, float]
    effects: Mapping[str, Mapping[str, Effect]]
    scatters: Mapping[str, Scatter]
    drawn: Mapping[str, Floats]

    def values(self, key: str, drawn: Drawn) -> Floats:
        """Return a figure of motors drawn, (n,)."""
        deviations, effects = self.production.deviations(drawn), self.effects[key]
        changes = np.sum([effects[name](deviations[name]) for name in effects], axis=0)
        return np.asarray(self.nominal[key] + changes)

    def lots(self, keys: Iterable[str]) -> Iterator[dict[str, Floats]]:
        """Yield figures of 2^POWER motors of each of 2^LOTS lots."""
        production = self.production
        own = production.draw(POWER).own
        for shift in production.draw(LOTS, production.seed + 1).lots:
            drawn = Drawn(own, np.tile(shift, (len(own), 1)))
            yield {key: self.values(key, drawn) for key in keys}

    def knows(self, limits: Limits) -> bool:
        """Say whether every figure with a limit is known."""
        return set(limits) <= set(self.drawn)

    def apart(self, sampled: Sequence[Scatter]) -> dict[str, str]:
        """Return in what figures differ from the sampled ones by more than APART, in words."""
        found = {}
        for one in sampled:
            mine = self.scatters.get(one.name)
            if mine is None:
                continue
            words = []
            if abs(mine.deviation - one.deviation) > APART * one.deviation:
                words.append(f"standard deviation {mine.deviation:.3g} against {one.deviation:.3g}")
            words += [
                f"share of {cause} {100 * share:.0f} % against {100 * one.shares[cause]:.0f} %"
                for cause, share in mine.shares.items()
                if abs(share - one.shares[cause]) > APART
            ]
            if words:
                found[one.name] = ", ".join(words)
        return found


@one_blas_thread()
def propagate(result: MotorResult, production: Production, keys: Sequence[str]) -> Propagation:
    """Return how figures scatter in a production, from a solved motor's derivatives.

    Parameters
    ----------
    result : MotorResult
        The nominal motor.
    production : Production
    keys : sequence of str
        Of ``summary.json``; those without derivatives, or without a value, are left out.

    Raises
    ------
    InvalidInput
        If a parameter cannot be at an end of its range.
    """
    figures = {k: read for k, read in sloped().items() if k in keys and _finite(read(result))}
    nominal = {key: float(read(result) or 0.0) for key, read in figures.items()}
    wide = result.design.geometry.gap.width
    effects: dict[str, dict[str, Effect]] = {key: {} for key in figures}
    for name in production.parameters:
        reach = production.reach(name)
        places, motors = _range(result, name, reach)
        for key, read in figures.items():
            known = np.array([math.nan if (v := read(motor)) is None else v for motor in motors])
            change = known - float(np.interp(0.0, places, known))
            near = places[-1] < reach and len(places) == 3
            bent = wide if key not in NEXT_TO_CORNERS else 0.0
            slope, bend = _beyond(places, change, known[1], bent) if near else (None, 0.0)
            effects[key][name] = Effect(places, change, slope, bend)
    drawn = production.draw(POWER, 0)
    found = Propagation(production, nominal, effects, {}, {})
    scatters, values_of = {}, {}
    for key in figures:
        values = found.values(key, drawn)
        if not np.isfinite(values).all():
            continue
        still = float(values.std()) <= STILL * abs(float(values.mean()))
        whole = 0.0 if still else float(values.var())
        parts = [found.values(key, alone) for alone in production.of_cause(drawn)]
        shares = {
            cause: float(part.var()) / whole if whole else 0.0
            for cause, part in zip(production.causes, parts, strict=True)
        }
        low, high = np.quantile(values, [0.025, 0.975])
        values_of[key] = values
        scatters[key] = Scatter(
            key, float(values.mean()), math.sqrt(whole), float(low), float(high), shares
        )
    return dataclasses.replace(found, scatters=scatters, drawn=values_of)


def _finite(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


def _beyond(places: Floats, effect: Floats, value: float, gap_width: float) -> tuple[float, float]:
    """Return slope and bend of three near places; no bend at a kink, or if ``gap_width`` is 0."""
    step = places[2] - places[0]
    slope = (effect[2] - effect[0]) / step
    bend = (effect[2] - 2 * effect[1] + effect[0]) / (step / 2) ** 2
    if not gap_width or kinked(abs(bend) * step / 2, slope, value, gap_width):
        bend = 0.0
    return float(slope), float(bend)


def _range(result: MotorResult, name: str, reach: float) -> tuple[Floats, list[MotorResult]]:
    """Return deviations (SI) in their order, and the motor at each."""
    design = result.design
    value = float(Draft(design).get(name))
    if name.startswith("coil."):
        places = np.linspace(-reach, reach, POINTS)
        designs = [Draft(design, {name: value + d}).design() for d in places]
        return places, [read_off(d, result.field) for d in designs]
    try:
        sides = neighbours(result, [name], second=True)[name]
    except InvalidInput:
        places = np.array([-reach, 0.0, reach])
        low, high = (solve(Draft(design, {name: value + d}).design()) for d in (-reach, reach))
        return places, [low, result, high]
    assert sides.middle is not None
    return np.array([-0.5, 0.0, 0.5]) * sides.step, [sides.low, sides.middle, sides.high]
