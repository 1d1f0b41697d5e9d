"""How flat and how even Bl(x) is over the design's own band of displacement.

Both are the largest of a number of smooth ones, at places over the band: searches by derivatives
follow each of those.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from motor.base.arrays import Floats
from motor.base.quantity import Line, Quantity
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.results.bl import BlCurve
    from motor.results.motor_result import MotorResult

__all__ = ["BAND", "BAND_PIECES", "PIECES_OF", "mean_in_band"]

SECTION = "Force"
PLACES = 25
"""At even distances over the band, its ends and rest among them."""
DEVIATING, LEANING = (0.35, 4.0), (0.5, 8.0)
"""Share of the error model's bound that is stated for deviation and asymmetry, relative to Bl, and
what the value itself adds to that: where Bl has fallen the same error is a larger share of it.  Set
on 36 random motors; tests/verification/coverage.py measures what they cover."""

Read = Callable[["BlCurve", float], "Floats | None"]


def _places(curve: BlCurve, band: float) -> Floats | None:
    """Return the places over the band in metres; None where the curve ends before it."""
    if band > min(-curve.x[0], curve.x[-1]):
        return None
    return np.linspace(-band, band, PLACES)


def _mean(x: Floats, bl: Floats) -> float:
    return float(np.trapezoid(bl, x) / (x[-1] - x[0]))


def mean_in_band(curve: BlCurve, band: float) -> float | None:
    """Return the mean of Bl in T m within band metres of rest; None where the curve ends before."""
    x = _places(curve, band)
    return None if x is None else _mean(x, curve(x))


def _deviations(curve: BlCurve, band: float) -> Floats | None:
    """Return Bl over its mean in the band less 1, at every place."""
    x = _places(curve, band)
    if x is None:
        return None
    bl = curve(x)
    return np.asarray(bl / _mean(x, bl) - 1)


def _leanings(curve: BlCurve, band: float) -> Floats | None:
    """Return (Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x)) at the places x > 0."""
    x = _places(curve, band)
    if x is None:
        return None
    bl = curve(x)
    out, inn = bl[PLACES // 2 + 1 :], bl[: PLACES // 2][::-1]
    return np.asarray((out - inn) / (out + inn))


def _largest(read: Read, share: tuple[float, float], r: MotorResult) -> Estimate | None:
    band, curve = r.design.stroke.band, r.bl_curve
    fine = None if band is None else read(curve, band)
    if band is None or fine is None:
        return None
    coarse = read(dataclasses.replace(curve, bl=curve.bl_coarse), band)
    value = float(np.abs(fine).max())
    beside = value if coarse is None else float(np.abs(coarse).max())
    times, more = share
    return Estimate(value, times * curve.errors.bound(value, beside, 1.0 + more * value))


def _one(read: Read, k: int, sign: float, r: MotorResult) -> float | None:
    band = r.design.stroke.band
    found = None if band is None else r.bl_curve.once(read, band)
    return None if found is None else sign * float(found[k])


BAND: tuple[Quantity[MotorResult], ...] = (
    Quantity(
        name="bl_deviation_in_band",
        unit="percent",
        words="largest deviation of Bl(x) in the band",
        read=functools.partial(_largest, _deviations, DEVIATING),
        uncertain=True,
        criterion="from its mean over the design's [stroke] band, over that mean",
        better="less",
        offered=4,
        hover=True,
        line=Line(SECTION, "Bl in the band, largest deviation", 3),
        slope="field",
        slope_factor=1.6,
        kind="share",
    ),
    Quantity(
        name="bl_asymmetry_in_band",
        unit="percent",
        words="largest asymmetry of Bl in the band",
        read=functools.partial(_largest, _leanings, LEANING),
        uncertain=True,
        criterion="|Bl(x) - Bl(-x)| / (Bl(x) + Bl(-x)) within the design's [stroke] band",
        better="less",
        offered=4,
        line=Line(SECTION, "Bl in the band, largest asymmetry", 3),
        slope="field",
        slope_factor=1.6,
        kind="share",
    ),
)


def _pieces(of: Quantity[MotorResult], read: Read, count: int) -> Iterator[Quantity[MotorResult]]:
    """Yield a figure at each of its places, either sign."""
    for k in range(count):
        for word, sign in (("up", 1.0), ("down", -1.0)):
            yield dataclasses.replace(
                of,
                name=f"{of.name}_{word}_{k}",
                words=f"{of.words}, {word}, at place {k}",
                read=functools.partial(_one, read, k, sign),
                uncertain=False,
                line=None,
            )


_DEVIATIONS = tuple(_pieces(BAND[0], _deviations, PLACES))
_LEANINGS = tuple(_pieces(BAND[1], _leanings, PLACES // 2))
BAND_PIECES = (*_DEVIATIONS, *_LEANINGS)
"""What searches read beside the figures of a result."""
PIECES_OF = {
    BAND[0].key: tuple(piece.key for piece in _DEVIATIONS),
    BAND[1].key: tuple(piece.key for piece in _LEANINGS),
}
"""Keys of the pieces of which each is the largest."""
