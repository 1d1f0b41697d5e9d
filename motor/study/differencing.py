"""What one parameter does to each figure and curve of a motor: differences, doubts and kinks.

Figures are read off the motors at both ends of a small change, by the functions that read off any
other, on the finer mesh; on the coarser one, which tells how far to believe it, at the upper end
alone where the field changes.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.quantity import COLUMN_UNITS
from motor.design.design import Design
from motor.field.field import FieldOnMesh
from motor.results.gap import along_gap
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities, quantity_of
from motor.study.neighbours import PRICE, TURNS, Change, ends, read_off_like
from motor.study.parameters import TOGETHER, Draft
from motor.study.slope_records import Derivative, Kink, Slope

__all__ = ["NEXT_TO_CORNERS", "Middle", "differentiated", "middles_of", "sloped"]

SHARE = 5e-3
"""The uncertainty of a derivative is the figure's factor times the root of three squares: what the
derivative changes by between the meshes, what the figure itself does per relative change of the
parameter, and this share of the derivative."""
CURVE = 0.55
"""That factor of a curve's points, with the root mean square of the change between the meshes as a
fourth square: point by point it is now larger, now smaller, than what it stands for."""
LOST = 12.0
"""As a square beside it, where magnets have lost something for good, which is held, LOST times what
that takes from the figure, per relative change.  Set on random motors of all kinds; see
tests/verification/coverage_derivatives.py."""

KINK, FLOOR = 0.1, 0.02
"""Derivatives to either side are two where they differ by more than these shares of their sizes and
of the figure over the gap's width or the parameter's size (smooth ones differed by up to 0.015),
and by more than twice the uncertainty."""

NEXT_TO_CORNERS = ("peak_steel_flux_density_T", "demagnetisation_margin_kA_per_m")
"""Figures read next to corners, whose derivatives to either side differ without a kink."""

Figures = Mapping[str, Callable[[MotorResult], float | None]]
Values = Mapping[str, float | None]
Slopes = Mapping[str, float]


@functools.cache
def sloped(kind: str = "") -> Figures:
    """Return how each figure with derivatives is read, in the unit of its key.

    ``kind`` is "field" for those read off the field, "parts" for those that follow from the
    drawing alone, "" for both.
    """
    quantities = (q for q in motor_quantities() if q.slope and q.slope.startswith(kind))
    return {q.key: q.differentiable for q in quantities}


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

    values: Values
    drawn: Values
    curves: Floats
    lost: Slopes
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


@dataclass(frozen=True)
class _OnMesh:
    """Derivatives by one parameter on one mesh.

    Parameters
    ----------
    whole, below, above : mapping of key to float
        Over the whole change, and to either side; the last alone of a mesh moved one way.
    curve, curve_above, bend : (n,) array
        Those of the curves over the whole change and upwards, and their second derivative.
    """

    whole: Slopes
    below: Slopes
    above: Slopes
    curve: Floats
    curve_above: Floats
    bend: Floats

    @property
    def sides(self) -> dict[str, tuple[float, float]]:
        """Derivatives to either side, of figures that have both."""
        return {key: (low, self.above[key]) for key, low in self.below.items() if key in self.above}


def _on_mesh(
    result: MotorResult,
    level: FieldOnMesh,
    middle: Middle,
    change: Change,
    shift: Floats | None,
    *,
    second: bool,
    upwards: bool,
) -> _OnMesh:
    """Return the derivatives on a mesh, one way only if ``upwards``."""
    figures, half = sloped("field"), change.step / 2
    at = middle.curves[: len(result.bl_curve.x)] if second else middle.curves
    if not change.read:
        none, flat = dict.fromkeys(figures, 0.0), np.zeros_like(at)
        return _OnMesh(none, {}, {}, flat, flat, flat)
    signs = (1,) if upwards else (-1, 1)
    found = ends(result, level, change, shift, second=second, signs=signs)
    values = [_read(figures, end) for end in found]
    curves = [_curves(end, result, gap=not second) for end in found]
    above, curve_above = _slopes_of(middle.values, values[-1], half), (curves[-1] - at) / half
    if upwards:
        return _OnMesh({}, {}, above, curve_above, curve_above, np.zeros_like(at))
    below = _slopes_of(values[0], middle.values, half)
    whole = _slopes_of(values[0], values[1], change.step)
    curve = (curves[1] - curves[0]) / change.step
    bend = (curves[1] + curves[0] - 2 * at) / half**2
    return _OnMesh(whole, below, above, curve, curve_above, bend)


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

    ``second`` for second derivatives too, of all but the gap's profile, which is left out.
    """
    fine, *coarse = (
        _on_mesh(
            result,
            level,
            middle,
            change,
            shift,
            second=second and not k,
            upwards=change.magnetic and k > 0,
        )
        for k, (level, middle) in enumerate(zip(levels, middles, strict=True))
    )
    size = _value(result.design, name, change)
    doubts = _Doubts(middles, fine, coarse[0] if coarse else None, change, size)
    low, high = (
        _read(sloped("parts"), dataclasses.replace(result, design=design))
        for design in (change.low, change.high)
    )
    half, drawn = change.step / 2, middles[0].drawn
    rows = [Derivative(k, name, v, doubts.of(k), _unit(k, change)) for k, v in fine.whole.items()]
    for figure, slope in _slopes_of(low, high, change.step).items():
        rows.append(Derivative(figure, name, slope, 0.0, _unit(figure, change)))
    if change.bare:
        decided = {q.key for q in motor_quantities() if q.rings_decide}
        rows = [r for r in rows if r.figure not in decided]
    finite = tuple(row for row in rows if math.isfinite(row.derivative))
    beside = _slopes_of(low, drawn, half), _slopes_of(drawn, high, half)
    sides = {k: (v, beside[1][k]) for k, v in beside[0].items() if k in beside[1]} | fine.sides
    kinks = tuple(_kinks(result.design, middles[0], finite, sides, doubts, change))
    count = len(result.bl_curve.x)
    curves = np.array([fine.curve, doubts.of_curves(count)])
    bends = {k: (above - below) / half for k, (below, above) in fine.sides.items()}
    return Slope(
        finite,
        curves[:, :count],
        curves[:, count:],
        kinks,
        bends if second else {},
        fine.bend[:count] if second else np.zeros(count),
    )


class _Doubts:
    """How far to believe the derivatives by one parameter; nan without a second mesh.

    Parameters
    ----------
    middles : sequence of Middle
    fine : _OnMesh
    coarse : _OnMesh or None
    change : Change
    size : float
        The parameter's own value in its unit.
    """

    def __init__(
        self,
        middles: Sequence[Middle],
        fine: _OnMesh,
        coarse: _OnMesh | None,
        change: Change,
        size: float,
    ) -> None:
        self._middles, self._fine, self._coarse = middles, fine, coarse
        self._change, self._size = change, size
        self._held = LOST / size if change.magnetic and middles[0].lost else 0.0

    def of(self, figure: str) -> float:
        """Return the uncertainty of a figure's derivative."""
        if not self._change.read:
            return 0.0
        if self._coarse is None:
            return math.nan
        fine, coarse = self._fine.whole, self._coarse.whole
        if self._change.magnetic:
            fine, coarse = self._fine.above, self._coarse.above
        change = fine.get(figure, math.nan) - coarse.get(figure, math.nan)
        return self._stated(figure, change, self._fine.whole[figure])

    def of_a_side(self, figure: str, sides: Iterable[float]) -> float | None:
        """Return that of the derivatives to either side; None where the coarser mesh has none.

        There the kink is elsewhere, and one of both holds.
        """
        coarse = self._coarse
        others = () if coarse is None else (coarse.below, coarse.above)
        found = [slopes[figure] for slopes in others if figure in slopes]
        if not found or figure not in sloped("field"):
            return None
        pairs = list(itertools.product(found, sides))
        change = min(abs(one - side) for one, side in pairs)
        return self._stated(figure, change, max(abs(side) for _, side in pairs))

    def _stated(self, figure: str, change: float, slope: float) -> float:
        here, there = (middle.values[figure] for middle in self._middles)
        itself = math.nan if here is None or there is None else (here - there) / self._size
        quantity = quantity_of(figure)
        assert quantity is not None
        known = quantity.slope_factor * math.hypot(change, itself, SHARE * slope)
        return math.hypot(known, self._held * self._middles[0].lost.get(figure, 0.0))

    def of_curves(self, count: int) -> Floats:
        """Return those of the derivatives of Bl(x), ``count`` points, and of B_r(z)."""
        fine, coarse = self._fine, self._coarse
        points = len(fine.curve)
        if not self._change.read:
            return np.zeros(points)
        if coarse is None:
            return np.full(points, np.nan)
        change = fine.curve - coarse.curve[:points]
        if self._change.magnetic:
            change = fine.curve_above - coarse.curve_above[:points]
        itself = (self._middles[0].curves - self._middles[1].curves)[:points] / self._size
        squares = change**2 + (SHARE * fine.curve) ** 2
        for part in (slice(0, count), slice(count, points)):
            if fine.curve[part].any():
                squares[part] += np.mean(change[part] ** 2 + itself[part] ** 2)
        held = self._held * self._middles[0].curves_lost[:points]
        return np.hypot(CURVE * np.sqrt(squares), held)


def _kinks(
    design: Design,
    middle: Middle,
    rows: Sequence[Derivative],
    sides: Mapping[str, tuple[float, float]],
    doubts: _Doubts,
    change: Change,
) -> Iterator[Kink]:
    """Yield the figures whose derivatives to either side are two."""
    if not change.both:
        return
    values = {**middle.drawn, **middle.values}
    for row in rows:
        below, above = sides.get(row.figure, (0.0, 0.0))
        jump, value = abs(above - below), abs(values[row.figure] or 0.0)
        if row.figure in NEXT_TO_CORNERS or not math.isfinite(jump) or not math.isfinite(value):
            continue
        least = FLOOR * value / _size(design, row.parameter, change)
        if jump <= max(KINK * (abs(above) + abs(below)), least):
            continue
        found = doubts.of_a_side(row.figure, (below, above))
        doubt = row.uncertainty if found is None else found
        if jump > 2 * float(np.nan_to_num(doubt)):
            yield Kink(row.figure, row.parameter, below, above, doubt, row.unit)


def _size(design: Design, name: str, change: Change) -> float:
    """Return over how much of a parameter, in its unit, figures usually change by their size."""
    return 1e3 * design.geometry.gap.width if change.unit == "mm" else _value(design, name, change)


def _value(design: Design, name: str, change: Change) -> float:
    """Return a parameter's own value in its unit, the gap's width of one that may well be 0."""
    if name.startswith(PRICE):
        return change.step
    if name == TURNS:
        return float(design.coil.turns_per_layer)
    value = abs(float(Draft(design).get(name.partition(TOGETHER)[0])))
    if name == "coil.rest_position" or not value:
        value = design.geometry.gap.width
    return value * change.step / change.si


def _slopes_of(low: Values, high: Values, step: float) -> dict[str, float]:
    pairs = {key: (low[key], high[key]) for key in low if key in high}
    return {k: (b - a) / step for k, (a, b) in pairs.items() if a is not None and b is not None}


def _unit(figure: str, change: Change) -> str:
    """Return the unit of a derivative as text."""
    quantity = quantity_of(figure)
    words = COLUMN_UNITS[quantity.unit if quantity else ""].words
    of = words or ("price" if figure.endswith("cost") else "1")
    return of if change.unit == "1" else f"{of}/{change.unit}"
