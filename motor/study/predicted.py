"""What follows from a fit: every figure with its band, and what to measure next.

Bands are carried through the figures' derivatives at the inferred sample, to first order.  What a
further measurement would be worth is the entropy that it takes from the unknowns, which does not
depend on what it will read (D. V. Lindley, Annals of Mathematical Statistics 27, 1956; for the
linear normal model half the logarithm of the ratio of determinants; from memory).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from motor.base.arrays import Floats
from motor.materials import Magnet
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import motor_quantities
from motor.study.differencing import sloped
from motor.study.fitted_part import part_of
from motor.study.forward import around, built, free_air, reading
from motor.study.inferred import Fit
from motor.study.measurements import KINDS, Measurement
from motor.study.neighbours import Neighbours
from motor.study.posterior import gained
from motor.study.unknowns import with_motion

__all__ = ["Candidate", "Predicted", "candidates", "exchanged", "predicted"]

Figure = Callable[[MotorResult], float | None]
REMANENCE = "factors.remanence"
POINTS = 31
STILL = 1e-9
"""A band below this share of the figure is rounding: the unknowns do not touch it."""
RIG, PROBE, COIL = 0.005, 0.005, 0.005
"""Scatter of a point of Bl(x), of a gap scan and of a search coil, over the largest value."""
GAINS = {"bl": 0.01, "gap_scan": 0.01, "flux": 0.005}
"""What the gains of rig, probe and fluxmeter may be wrong by."""
ZERO = 0.05e-3
"""What a rig's zero may be wrong by, metres."""
BAND, METER, MODEL = (10.0, 10e3), 0.01, 0.02
"""Of an impedance: hertz, scatter of a point over its magnitude, and what the held coil's model may
be wrong by."""
CALIPER, BRIDGE, SCALES = 0.01e-3, 0.005, 0.01
"""Of a length in metres, of a resistance and of a mass, relative; common practice, no source."""


@dataclass(frozen=True)
class Predicted:
    """One figure before and after the measurements, in the unit of its key.

    Parameters
    ----------
    figure : str
        Key of ``summary.json``.
    words : str
    before, before_deviation : float
        As drawn, with what the priors leave open.
    after, after_deviation : float
        Of the inferred sample, with what is still open.
    """

    figure: str
    words: str
    before: float
    before_deviation: float
    after: float
    after_deviation: float


def predicted(fit: Fit) -> tuple[Predicted, ...]:
    """Return every figure that the unknowns touch."""
    return _bands(fit, fit.before, fit.after, fit.sides, fit.covariance)


def exchanged(fit: Fit) -> tuple[Predicted, ...]:
    """Return the sample beside the same with the magnet grade that the measurements name.

    All that was inferred of the rest stays; of the other supplier's magnets only the table's value
    is known, and the prior of their remanence, which the sample's own says nothing about.

    Raises
    ------
    InvalidInput, MeshError, SolveError
    """
    values = {u.name: u.estimate for u in fit.unknowns} | {REMANENCE: 1.0}
    values = {u.name: values[u.name] for u in fit.unknowns}
    drawn = fit.before.design
    parts = {
        name: part for name, part in drawn.materials.parts.items() if not isinstance(part, Magnet)
    }
    other = dataclasses.replace(drawn.materials, magnet=fit.measured.exchange, parts=parts)
    result = solve(built(drawn.replace(materials=other), values), warm_start=fit.after)
    own = np.array([u.name == REMANENCE for u in fit.unknowns])
    known = np.where(own[:, None] | own, np.diag(own.astype(float)), fit.covariance)
    sides = around(result, fit.measured.unknowns, values)
    return _bands(fit, fit.after, result, sides, known, before_by=(fit.sides, fit.covariance))


def _bands(
    fit: Fit,
    before: MotorResult,
    after: MotorResult,
    sides: Mapping[str, Neighbours],
    known: Floats,
    before_by: tuple[Mapping[str, Neighbours], Floats] | None = None,
) -> tuple[Predicted, ...]:
    """Return the figures of two results, each with its band; before, by the priors at ``after``."""
    first_sides, first_known = before_by or (sides, np.eye(len(known)))
    found = []
    words = {q.key: q.words for q in motor_quantities()}
    for key, read in sloped().items():
        values = read(before), read(after)
        slopes = [_slope(fit, s, read) for s in (first_sides, sides)]
        if None in values or not np.isfinite([*values, *slopes[0], *slopes[1]]).all():
            continue
        wide, narrow = (
            math.sqrt(max(float(slope @ C @ slope), 0.0))
            for slope, C in zip(slopes, (first_known, known), strict=True)
        )
        if max(wide, narrow) > STILL * abs(values[1] or 0.0):
            first, second = (float(value or 0.0) for value in values)
            found.append(Predicted(key, words[key], first, wide, second, narrow))
    return tuple(found)


def _slope(fit: Fit, sides: Mapping[str, Neighbours], read: Figure) -> Floats:
    """Return a figure's change per prior deviation of each unknown, nan where it has none."""
    slope = []
    for one in fit.unknowns:
        side = sides[one.name]
        low, high = read(side.low), read(side.high)
        slope.append((high - low) / side.step if low is not None and high is not None else math.nan)
    return np.array(slope) * [one.prior_deviation for one in fit.unknowns]


@dataclass(frozen=True)
class Candidate:
    """A further measurement and what it would leave open.

    Parameters
    ----------
    words : str
        What to measure, and how well.
    gain : float
        Entropy taken from the unknowns, in bits: one halves what is open of one unknown.
    deviations : tuple of float
        Of the unknowns, SI, in their order.
    """

    words: str
    gain: float
    deviations: tuple[float, ...]


def candidates(fit: Fit) -> tuple[Candidate, ...]:
    """Return what could be measured next, the most telling first.

    Raises
    ------
    SolveError
    """
    scale = np.array([one.prior_deviation for one in fit.unknowns])
    now = np.linalg.slogdet(fit.covariance)[1]
    found = []
    for words, one in _offered(fit):
        after = gained(fit.covariance, _jacobian(fit, one))
        gain = (now - np.linalg.slogdet(after)[1]) / (2 * math.log(2))
        found.append(
            Candidate(words, max(float(gain), 0.0), tuple(scale * np.sqrt(np.diag(after))))
        )
    return tuple(sorted(found, key=lambda c: -c.gain))


def _jacobian(fit: Fit, one: Measurement) -> Floats:
    """Return the derivatives of what would be read over a point's deviation; its own last.

    Its own are its rig's, its numerical errors', and of an impedance also those of the parts that
    move, unless they are among the unknowns already.
    """
    unknowns, sides = fit.measured.unknowns, dict(fit.sides)
    if one.kind == "impedance":
        unknowns = with_motion(fit.after.design, unknowns)
        more = unknowns[len(fit.unknowns) :]
        sides |= around(fit.after, more, {u.name: u.prior for u in more})
    s = np.zeros(len(unknowns))
    s[: len(fit.unknowns)] = [u.surprise for u in fit.unknowns]
    part = part_of(one, unknowns, len(s), fit.after, fit.after, sides, s)
    if one.kind == "impedance":  # its deviation is a share of the magnitude
        size = np.abs(free_air(fit.after, part.taken))
        part = dataclasses.replace(part, deviation=part.deviation * size)
    whole = np.concatenate([s, np.zeros(part.size - len(s))])
    return part.jacobian(fit.after, whole, unknowns, sides)


def _offered(fit: Fit) -> Iterator[tuple[str, Measurement]]:
    """Yield further measurements with words: other kinds, and all lengths among the unknowns."""
    result = fit.after
    design, taken = result.design, {r.measurement.kind for r in fit.residuals}
    gap, coil = design.geometry.gap, design.coil
    low, high = 0.8 * result.bl_curve.x[[0, -1]]
    z = np.linspace(gap.bottom - gap.width, gap.top + gap.width, POINTS)
    radius = {"radius": coil.mean_radius}
    tables: Sequence[tuple[str, str, Floats, float, dict[str, Any]]] = (
        ("bl", "Bl(x) by a displacement rig", np.linspace(low, high, POINTS), RIG, {}),
        ("gap_scan", "a scan of the gap", z, PROBE, {**radius, "probe_height": 0.5e-3}),
        ("flux", "flux through a search coil along the gap", z, COIL, {**radius, "turns": 1.0}),
    )
    for kind, words, place, share, settings in tables:
        role = KINDS[kind].shifted
        plain = Measurement(
            kind, kind, {role: place}, place, 1.0, GAINS[kind], ZERO, settings=settings
        )
        deviation = share * float(np.abs(reading(result, plain)).max())
        again = " once more" if kind in taken else ""
        text = f"{words}{again}, {POINTS} points of {100 * share:g} %"
        yield text, dataclasses.replace(plain, deviation=deviation)
    if "impedance" not in taken:
        yield from _impedance(result)
    single = [("resistance", "", BRIDGE), ("mass", "coil", SCALES)]
    for kind, of, share in single:
        if kind == "resistance" and kind in taken:
            continue
        one = Measurement(
            kind, kind, {}, np.zeros(1), 1.0, settings={"temperature": math.nan}, of=of
        )
        deviation = share * float(reading(result, one)[0])
        words = f"{of} {kind} to {100 * share:g} %".strip()
        yield words, dataclasses.replace(one, deviation=deviation)
    for u in fit.unknowns:
        if u.kind == "length":
            one = Measurement("", "dimension", {}, np.zeros(1), CALIPER, of=u.name)
            yield f"{u.name} by a gauge to {1e3 * CALIPER:g} mm", one


def _impedance(result: MotorResult) -> Iterator[tuple[str, Measurement]]:
    """Yield an impedance in free air, of a design that says what moves and what that loses."""
    parts, coil = result.design.moving_parts, result.design.coil
    if parts is None or parts.mechanical_resistance is None or coil.parts_share:
        return
    f = np.geomspace(*BAND, POINTS)
    along = {"part": np.repeat([0.0, 1.0], POINTS), "frequency": np.tile(f, 2)}
    settings = {"inductance": MODEL}
    one = Measurement("", "impedance", along, np.zeros(2 * POINTS), METER, settings=settings)
    yield f"impedance in free air, {POINTS} points of {100 * METER:g} %, both parts", one
