"""What a small change of each dimension, material or price does to each figure of a motor.

The mesh is moved along with the corners, the change of the potential at its nodes follows from one
back-substitution with the tangent at hand, and the figures are read off the two moved motors by
the functions that read off any other.  The second mesh says how far to believe it.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.base.quantity import COLUMN_UNITS
from motor.design.design import Design
from motor.field.field import FieldOnMesh
from motor.field.motion import NoSmoothMotionError
from motor.results.gap import along_gap
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities, quantity_of
from motor.study.neighbours import (
    PRICE,
    TURNS,
    Change,
    asked,
    checked,
    ends,
    prepared,
    read_off_like,
)
from motor.study.parameters import TOGETHER, Draft, known_parameters
from motor.study.slope_records import Derivative, Derivatives, Kink, Slope

__all__ = [
    "Derivative",
    "Derivatives",
    "Kink",
    "Slope",
    "derivatives",
    "differentiated",
    "middles_of",
    "sloped",
    "together",
]

CHANGE, SCATTER, LOST = 2.7, 9.0, 12.0
"""The uncertainty is CHANGE |fine - coarse| + SCATTER s |fine| with the error model's scatter s,
and as a square beside it, where magnets have lost something for good, which is held, LOST times
what that takes from the figure, per relative change; set on 53 random motors of all kinds, see
tests/verification/coverage_derivatives.py."""

KINK, FLOOR = 0.1, 0.02
"""Derivatives to either side are two where they differ by more than these shares of their sizes and
of the figure over the gap's width or the parameter's size (smooth ones differed by up to 0.015),
and by more than twice the uncertainty."""

UNCHECKED = ("peak_steel_flux_density_T", "demagnetisation_margin_kA_per_m")
"""Figures whose derivatives state no uncertainty: those of finely solved neighbours scatter by
more, since both are read next to corners, so that none could be measured."""

Figures = Mapping[str, Callable[[MotorResult], float | None]]


@functools.cache
def sloped(kind: str = "") -> Figures:
    """Return how each figure with derivatives is read, in the unit of its key.

    ``kind`` is "field" for those read off the field, "parts" for those that follow from the
    drawing alone, "" for both.
    """
    quantities = (q for q in motor_quantities() if q.slope and q.slope.startswith(kind))
    return {q.key: q.differentiable for q in quantities}


@one_blas_thread()
def derivatives(result: MotorResult, parameters: Sequence[str] | None = None) -> Derivatives:
    """Return what each parameter does to each figure of a solved motor.

    What magnets have lost for good is held.

    Parameters
    ----------
    result : MotorResult
    parameters : sequence of str or None
        Dotted names; None for every dimension, material factor, temperature and price.

    Raises
    ------
    InvalidInput
        If there is no such parameter.
    """
    design = result.design
    levels, mover = prepared(result)
    middles = middles_of(result, levels)
    rows: list[Derivative] = []
    kinks: list[Kink] = []
    refused: dict[str, str] = {}
    bl: dict[str, Floats] = {}
    gap: dict[str, Floats] = {}
    checked(design, parameters or ())
    for name in parameters or itertools.chain(_names(design), together(design, refused)):
        try:
            change, shift = asked(result, name, mover)
            one = differentiated(result, levels, middles, name, change, shift)
        except (InvalidInput, NoSmoothMotionError) as reason:
            refused[name] = str(reason)
            continue
        kinked = {kink.figure for kink in one.kinks}
        rows += [row for row in one.rows if row.figure not in kinked]
        kinks += one.kinks
        bl[name], gap[name] = one.bl, one.gap
    x, z = result.bl_curve.x, result.gap_profile.z
    return Derivatives(design.name, tuple(rows), refused, x, bl, tuple(kinks), z, gap)


@dataclass(frozen=True)
class Middle:
    """The motor itself read off one mesh like its neighbours: figures of the field, and curves.

    Parameters
    ----------
    values : mapping of key to float or None
    drawn : mapping of key to float or None
        Those that follow from the drawing alone.
    curves : (n + m,) array
        Bl(x), and B_r(z) along the gap.
    lost : mapping of key to float
        By how much what magnets have lost for good changes each figure; empty if nothing.
    curves_lost : (n + m,) array
    """

    values: Mapping[str, float | None]
    drawn: Mapping[str, float | None]
    curves: Floats
    lost: Mapping[str, float]
    curves_lost: Floats


def middles_of(result: MotorResult, levels: Sequence[FieldOnMesh]) -> list[Middle]:
    """Return the motor itself on each level."""
    before, drawn = result.field.before_loss, _read(sloped("parts"), result)
    found = []
    for k, level in enumerate(levels):
        here = read_off_like(result, level)
        values, curves = _read(sloped("field"), here), _curves(here, result)
        lost, curves_lost = {}, np.zeros_like(curves)
        if before is not None and not k:
            there = read_off_like(result, before.fine)
            lost = _slopes_of(_read(sloped("field"), there), values, 1.0)
            curves_lost = curves - _curves(there, result)
        found.append(Middle(values, drawn, curves, lost, curves_lost))
    return found


def _read(figures: Figures, result: MotorResult) -> dict[str, float | None]:
    return {key: figure(result) for key, figure in figures.items()}


def _curves(result: MotorResult, like: MotorResult, gap: bool = True) -> Floats:
    """Return Bl(x) and B_r(z) along the gap of a neighbour, where those of the motor itself are."""
    bl = result.bl_curve.bl
    if not gap:
        return bl
    across = along_gap(result.field.fine, result.design.geometry.gap, like.gap_profile)
    return np.concatenate([bl, across])


def differentiated(
    result: MotorResult,
    levels: Sequence[FieldOnMesh],
    middles: Sequence[Middle],
    name: str,
    change: Change,
    shift: Floats | None,
    *,
    second: bool = False,
) -> Slope:
    """Return what one parameter does, its change and the nodes' shift given.

    The coarser mesh tells the uncertainty by the upper end alone, beside the finer one's.
    ``second`` for second derivatives too, of all but the gap's profile, which is left out.
    """
    figures, scatter, x = sloped("field"), result.field.errors.scatter, result.bl_curve.x
    fine, change_of = dict.fromkeys(figures, 0.0), dict.fromkeys(figures, 0.0)
    count = len(x) if second else len(middles[0].curves)
    at = [middle.curves[:count] for middle in middles]
    read = functools.partial(_curves, like=result, gap=not second)
    curve, curve_change = np.zeros(count), np.zeros(count)
    bends: dict[str, float] = {}
    bent = np.zeros_like(x)
    drawn = [
        _read(sloped("parts"), dataclasses.replace(result, design=design))
        for design in (change.low, change.high)
    ]
    sides = _sides(drawn[0], middles[0].drawn, drawn[1], change.step / 2)
    others: list[Mapping[str, float]] = []
    if change.read:
        step, half, middle = change.step, change.step / 2, middles[0]
        low, high = ends(result, levels[0], change, shift, second=second)
        below, above = _read(figures, low), _read(figures, high)
        fine = _slopes_of(below, above, step)
        at_low, at_high = read(low), read(high)
        curve = (at_high - at_low) / step
        up = _slopes_of(middle.values, above, half)
        field_sides = _sides(below, middle.values, above, half)
        sides |= field_sides
        if second:
            bends = {k: (upper - lower) / half for k, (lower, upper) in field_sides.items()}
            bent = (at_high + at_low - 2 * at[0]) / half**2
        if len(levels) > 1:
            known = {k: f for k, f in figures.items() if k not in UNCHECKED}
            if change.magnetic:
                beside, way = up, (at_high - at[0]) / half
                other = ends(result, levels[1], change, shift, signs=(1,))[0]
                coarse = _slopes_of(middles[1].values, _read(known, other), half)
                others = [coarse]
                way -= (read(other) - at[1]) / half
            else:
                beside, way = fine, curve
                one, other = ends(result, levels[1], change, shift)
                pair = [_read(known, one), middles[1].values, _read(known, other)]
                coarse = _slopes_of(pair[0], pair[2], step)
                others = [_slopes_of(a, b, half) for a, b in itertools.pairwise(pair)]
                way = way - (read(other) - read(one)) / step
            curve_change = way
            change_of |= {k: beside[k] - coarse[k] for k in coarse.keys() & beside.keys()}
    alone, held, middle = len(levels) == 1, 0.0, middles[0]
    if change.magnetic and middle.lost:
        size = abs(float(Draft(result.design).get(name.partition(TOGETHER)[0])))
        held = LOST * change.si / (size * change.step)
    rows: list[Derivative] = []
    for figure, slope in fine.items():
        doubt = CHANGE * abs(change_of.get(figure, math.nan)) + SCATTER * scatter * abs(slope)
        doubt = math.hypot(doubt, held * middle.lost.get(figure, 0.0))
        doubt = math.nan if (figure in UNCHECKED and slope) or alone else doubt
        rows.append(Derivative(figure, name, slope, doubt, _unit(figure, change)))
    change_in = [_beside_its_own(part) for part in np.split(curve_change, [len(x)])]
    spread = CHANGE * np.concatenate(change_in) + SCATTER * scatter * np.abs(curve)
    both = np.array([curve, np.hypot(spread, held * middle.curves_lost[:count])])
    for figure, slope in _slopes_of(drawn[0], drawn[1], change.step).items():
        rows.append(Derivative(figure, name, slope, 0.0, _unit(figure, change)))
    if change.bare:
        decided = {q.key for q in motor_quantities() if q.rings_decide}
        rows = [r for r in rows if r.figure not in decided]
    finite = tuple(row for row in rows if math.isfinite(row.derivative))
    doubts = {
        key: math.hypot(
            CHANGE * min(abs(one[key] - side) for one in others for side in sides[key])
            + SCATTER * scatter * max(map(abs, sides[key])),
            held * middle.lost.get(key, 0.0),
        )
        for key in set(sides).intersection(figures, *others)
        if others
    }
    kinks = tuple(_kinks(result.design, middle, finite, sides, doubts, change))
    return Slope(finite, both[:, : len(x)], both[:, len(x) :], kinks, bends, bent)


def _beside_its_own(change: Floats) -> Floats:
    """Return the size of a curve's change between meshes, with its root mean square beside it.

    Point by point the change is now larger, now smaller, than what it stands for.
    """
    return np.hypot(change, np.sqrt(np.mean(change**2))) if change.size else change


def _kinks(
    design: Design,
    middle: Middle,
    rows: Sequence[Derivative],
    sides: Mapping[str, tuple[float, float]],
    doubts: Mapping[str, float],
    change: Change,
) -> Iterator[Kink]:
    """Yield the figures whose derivatives to either side are two.

    On the coarser mesh, which tells their uncertainty, the kink is elsewhere and one of both holds.
    """
    if not change.both:
        return
    values = {**middle.drawn, **middle.values}
    for row in rows:
        below, above = sides.get(row.figure, (0.0, 0.0))
        jump, doubt = abs(above - below), doubts.get(row.figure, row.uncertainty)
        value = abs(values[row.figure] or 0.0)
        if row.figure in UNCHECKED or not math.isfinite(jump) or not math.isfinite(value):
            continue
        least = max(KINK * (abs(above) + abs(below)), 2 * float(np.nan_to_num(doubt)))
        if jump > least and jump > FLOOR * value / _scale(design, row.parameter, change):
            yield Kink(row.figure, row.parameter, below, above, doubt, row.unit)


def _scale(design: Design, name: str, change: Change) -> float:
    """Return over how much of a parameter, in its unit, figures usually change by their size."""
    if change.unit == "mm":
        return 1e3 * design.geometry.gap.width
    if name.startswith(PRICE) or name == TURNS:
        return change.step
    value = abs(float(Draft(design).get(name.partition(TOGETHER)[0])))
    return value * change.step / change.si or 1.0


def _names(design: Design) -> Iterator[str]:
    """Yield every parameter that is a number other than a count, and that the design has."""
    draft = Draft(design)
    for name, parameter in known_parameters(design).items():
        if parameter.kind in ("count", "text") or name == "factors.stiffness":
            continue
        if name.startswith("heat."):
            continue  # no figure of the motor by itself follows from how it is cooled
        if name.startswith("geometry.") and (parameter.kind != "length" or ".rings." in name):
            continue  # rings carry none of this field; angles and numbers move no corner by a step
        value = draft.get(name)
        if (isinstance(value, int | float) and value != 0) or name == "coil.rest_position":
            yield name
    yield TURNS
    materials = design.materials
    yield from sorted({PRICE + materials.material_of(r).name for r in design.regions})


def together(design: Design, refused: Mapping[str, str]) -> Iterator[str]:
    """Yield those dimensions of the geometry that are equal and were refused one by one.

    Of a plain plate gap depth and thickness are one dimension, of flush parts both diameters.
    """
    equal: dict[float, list[str]] = {}
    for name in list(refused):
        if name.startswith("geometry."):
            equal.setdefault(round(Draft(design).get(name), 9), []).append(name)
    yield from (TOGETHER.join(names) for names in equal.values() if len(names) > 1)


def _sides(
    low: Mapping[str, float | None],
    middle: Mapping[str, float | None],
    high: Mapping[str, float | None],
    half: float,
) -> dict[str, tuple[float, float]]:
    """Return derivatives to either side."""
    below, above = _slopes_of(low, middle, half), _slopes_of(middle, high, half)
    return {key: (below[key], above[key]) for key in below if key in above}


def _slopes_of(
    low: Mapping[str, float | None], high: Mapping[str, float | None], step: float
) -> dict[str, float]:
    pairs = {key: (low[key], high[key]) for key in low if key in high}
    return {k: (b - a) / step for k, (a, b) in pairs.items() if a is not None and b is not None}


def _unit(figure: str, change: Change) -> str:
    """Return the unit of a derivative as text."""
    quantity = quantity_of(figure)
    words = COLUMN_UNITS[quantity.unit if quantity else ""].words
    of = words or ("price" if figure.endswith("cost") else "1")
    return of if change.unit == "1" else f"{of}/{change.unit}"
