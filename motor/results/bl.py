"""Bl(x): the force factor over the coil's displacement, and what is read off it."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.field.field import ErrorModel, Estimate
from motor.results.profile import FluxProfile

__all__ = ["BlCurve", "LinearStroke", "bl_curve", "first_fall"]

Made = TypeVar("Made")
SAMPLES = 401
STROKE, CARRIED, PLACE, FROM_THERE, MOVED, FLAT = 0.9, 0.58, 0.62, 0.78, 0.54, 0.108
"""Factors of the uncertainty of strokes, of the best rest position, of the stroke from there, and
of the largest Bl's place, set on 288 motors to hold for 95 %; tests/verification/coverage.py
measures what they cover."""
REST_GRID, REST_ROUNDS = 33, 4
"""Rest positions tried at once, and how often the best one's surroundings are tried again."""


@dataclass(frozen=True)
class LinearStroke:
    """How far Bl stays above a share of its rest value.  All strokes one-way, in metres.

    Parameters
    ----------
    share : float
        The criterion, e.g. 0.82.
    inward, outward : Estimate
        Stroke to either side, both positive; infinite if Bl stays above within the curve.
    """

    share: float
    inward: Estimate
    outward: Estimate

    @property
    def symmetric(self) -> Estimate:
        """The smaller of the two."""
        return min(self.inward, self.outward, key=lambda e: e.value)


@dataclass(frozen=True)
class BlCurve(Drawable):
    """Force factor of a coil over displacement, positive at rest.

    Parameters
    ----------
    x : (n,) array
        Displacement from rest in metres, rising, positive outwards, from the place where the
        coil would meet the motor (or has left the gap) to where it has left the gap.
    bl, bl_coarse : (n,) array
        Force factor in T m on the fine and on the coarse mesh.
    rest_position : float
        Height of the winding's middle at rest above the middle of the gap, metres.
    errors : ErrorModel
        How the difference of the two turns into uncertainty.
    """

    x: Floats
    bl: Floats
    bl_coarse: Floats
    rest_position: float
    errors: ErrorModel

    @functools.cached_property
    def _made(self) -> dict[tuple[Any, ...], Any]:
        return {}

    def once(self, make: Callable[..., Made], *arguments: Hashable) -> Made:
        """Return ``make(self, *arguments)``, made once however many figures are read of it."""
        if (make, *arguments) not in self._made:
            self._made[make, *arguments] = make(self, *arguments)
        found: Made = self._made[make, *arguments]
        return found

    @functools.cached_property
    def _splines(self) -> tuple[CubicSpline, CubicSpline]:
        fine = CubicSpline(self.x, self.bl)
        return fine, fine if self.bl_coarse is self.bl else CubicSpline(self.x, self.bl_coarse)

    @functools.cached_property
    def uncertainty(self) -> Floats:
        """Numerical uncertainty of each point in T m."""
        return self.errors.bounds(self.bl, self.bl_coarse, float(np.abs(self.bl).max()))

    def __call__(self, x: ArrayLike) -> Floats:
        """Return Bl in T m at displacements x in metres; ValueError outside the curve."""
        x = np.asarray(x, float)
        if x.size and (x.min() < self.x[0] - 1e-12 or x.max() > self.x[-1] + 1e-12):
            raise ValueError(
                f"x must lie within the curve, {self.x[0]} to {self.x[-1]} m; "
                f"received {x.min()} to {x.max()} m"
            )
        result: Floats = self._splines[0](x)
        return result

    @property
    def at_rest(self) -> Estimate:
        """Bl at rest in T m."""
        fine, coarse = (float(s(0.0)) for s in self._splines)
        return self.errors.estimate(fine, coarse)

    @functools.cached_property
    def _peaks(self) -> list[tuple[float, float]]:
        peaks = []
        for spline, values in zip(self._splines, (self.bl, self.bl_coarse), strict=True):
            i = int(np.clip(values.argmax(), 1, len(values) - 2))
            turning = spline.derivative().solve(extrapolate=False)
            near = turning[(turning >= self.x[i - 1]) & (turning <= self.x[i + 1])]
            best = max([*near, self.x[values.argmax()]], key=lambda t: float(spline(t)))
            peaks.append((float(best), float(spline(best))))
        return peaks

    @property
    def peak(self) -> Estimate:
        """Largest Bl in T m."""
        (_, fine), (_, coarse) = self._peaks
        return self.errors.estimate(fine, coarse)

    @property
    def peak_position(self) -> Estimate:
        """Displacement of the largest Bl in metres.

        Uncertain by MOVED times the change between the meshes, or by FLAT times how far Bl has to
        go from its peak to fall by its own uncertainty, whichever is more.
        """
        (fine, _), (coarse, _) = self._peaks
        bend = abs(float(self._splines[0](fine, 2)))
        room = float(self.x[-1] - self.x[0])
        flat = FLAT * math.sqrt(2 * self.peak.uncertainty / bend) if bend else room
        return Estimate(fine, max(MOVED * abs(fine - coarse), min(flat, room)))

    def stroke(self, share: float) -> LinearStroke:
        """Return the stroke over which Bl stays above a share (0 to 1) of its rest value."""
        inward, outward = (self._fall(sign, share) for sign in (-1.0, 1.0))
        return LinearStroke(share, inward, outward)

    def _fall(self, sign: float, share: float) -> Estimate:
        """Return the stroke to one side.

        The uncertainty is at least that of Bl carried through the slope at the crossing, CARRIED
        of it: errors of Bl at rest and at the crossing go together.
        """
        fine, coarse = (
            first_fall(self.x, values, 0.0, sign, share) for values in (self.bl, self.bl_coarse)
        )
        if not math.isfinite(fine):
            return Estimate(math.inf, 0.0)
        end = abs(float(self.x[0 if sign < 0 else -1]))
        slope = abs(float(self._splines[0](sign * fine, 1)))
        carried = CARRIED * self.at_rest.value / slope if slope else math.inf
        coarse = coarse if math.isfinite(coarse) else end
        bound = STROKE * self.errors.bound(fine, coarse, max(fine, carried))
        return Estimate(fine, min(bound, max(end, fine)))

    def asymmetry(self) -> tuple[Floats, Floats]:
        """Return displacements x > 0 in metres and (Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x))."""
        half = np.linspace(0.0, min(-self.x[0], self.x[-1]), SAMPLES // 2)[1:]
        out, inn = self(half), self(-half)
        return half, (out - inn) / (out + inn)

    def best_rest_position(self, share: float) -> tuple[Estimate, Estimate]:
        """Return the rest position with the longest symmetric stroke, and that stroke.

        Both in metres, the position above the middle of the gap.  Where the curve ends before
        Bl has fallen that far, its end counts as the end of the stroke.
        """
        place, stroke = self._best_rest(self.bl, share)
        coarse_place, coarse_stroke = self._best_rest(self.bl_coarse, share)
        here = float(self._splines[0](place))
        slopes = (abs(float(self._splines[0](place + s * stroke, 1))) for s in (-1.0, 1.0))
        steep = max(min(slopes), abs(here) / float(self.x[-1] - self.x[0]))
        scale = max(stroke, CARRIED * here / steep)
        spread = PLACE * self.errors.bound(place, coarse_place, scale)
        return (
            Estimate(self.rest_position + place, spread),
            Estimate(stroke, FROM_THERE * self.errors.bound(stroke, coarse_stroke, scale)),
        )

    def _best_rest(self, bl: Floats, share: float) -> tuple[float, float]:
        """Return the displacement with the longest symmetric stroke, and that stroke, metres."""

        def reach(shift: float) -> float:
            if np.interp(shift, self.x, bl) <= 0:
                return 0.0
            ends = (shift - self.x[0], self.x[-1] - shift)
            falls = (first_fall(self.x, bl, shift, sign, share) for sign in (-1.0, 1.0))
            return float(min(*ends, *falls))

        low, high = 0.6 * self.x[0], 0.6 * self.x[-1]
        best = 0.0
        for _ in range(REST_ROUNDS):
            shifts = np.linspace(low, high, REST_GRID)
            reaches = np.array([reach(s) for s in shifts])
            best = float(shifts[reaches.argmax()])
            step = shifts[1] - shifts[0]
            low, high = best - step, best + step
        return best, reach(best)


def first_fall(x: Floats, bl: Floats, origin: float, sign: float, share: float) -> float:
    """Return the distance from origin at which bl first falls to share of its value there."""
    here = float(np.interp(origin, x, bl))
    side = x > origin if sign > 0 else x < origin
    distance, value = np.abs(x[side] - origin), bl[side]
    if sign < 0:
        distance, value = distance[::-1], value[::-1]
    limit = share * here
    below = np.flatnonzero(value < limit)
    if not len(below):
        return float("inf")
    k = int(below[0])
    d0, v0 = (distance[k - 1], value[k - 1]) if k else (0.0, here)
    return float(d0 + (v0 - limit) / (v0 - value[k]) * (distance[k] - d0))


def bl_curve(
    profile: FluxProfile,
    height: float,
    turns: float,
    rest_position: float,
    inward: float,
    outward: float,
    *,
    further: Sequence[tuple[FluxProfile, float, float, float]] = (),
) -> BlCurve:
    """Return Bl(x) of a winding, or of several that move together.

    Parameters
    ----------
    profile : FluxProfile
        Along the winding's path.
    height : float
        Winding height, metres.
    turns : float
    rest_position : float
        Middle of the winding at rest, metres above the middle of the gap.
    inward, outward : float
        Largest displacement to either side, metres.
    further : sequence of (profile, height, turns, place)
        More windings: turns with the sense against the first's, place of the middle above the
        first's in metres.
    """
    x = np.linspace(-inward, outward, SAMPLES)

    def force_factor(*, coarse: bool) -> Floats:
        middle = rest_position + x
        total = profile.force_factor(middle, height, turns, coarse=coarse)
        for other, tall, number, place in further:
            total = total + other.force_factor(middle + place, tall, number, coarse=coarse)
        return total

    fine = force_factor(coarse=False)
    sign = 1.0 if np.interp(0.0, x, fine) >= 0 else -1.0
    fine = coarse = sign * fine
    if profile.coarse is not profile.fine:
        coarse = sign * force_factor(coarse=True)
    return BlCurve(x, fine, coarse, rest_position, profile.errors)
