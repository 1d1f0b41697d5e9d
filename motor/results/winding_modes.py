"""Inductance and losses of any winding in a motor whose field is solved, from modes along its way.

Modes as in :mod:`motor.results.coil_model`, but spanned by the fields of windings of other heights
too, and kept as flux functions over the room that windings can fill: in radius as Legendre
polynomials, integrated over height.  The mean over the section of a winding, times its turns, is
what it couples to each mode.  The report page computes the same from the same numbers.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import legendre
from scipy.interpolate import CubicSpline

from motor.base.arrays import Complexes, Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.base.steps import step
from motor.design.coil import Coil
from motor.field.eddy_currents import SKIN, Harmonic
from motor.field.field import shape_functions
from motor.field.reduced import Span, modes
from motor.results.at_coil import AT_COIL
from motor.results.coil_model import EVERY, RATES, TURNS
from motor.results.impedance import equations
from motor.results.parallel_parts import linkage_of, loads_at

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["FAR_HEIGHT", "FAR_LAYERS", "Section", "WindingModes", "sections_of", "winding_modes"]

SPANNED = (
    (0.5, 1.0, 17),
    (1.0, 1.0, 25),
    (1.5, 1.0, 13),
    (0.5, 0.5, 13),
    (0.6, 2.0, 17),
    (1.2, 2.0, 13),
)
"""Heights and layers over the design's whose fields the modes span, and at how many places."""
PROBES = ((1.0, 1.0), (0.75, 1.5), (1.25, 1.0), (0.8, 0.5))
"""Those at which modes are compared with all: the design's own winding, and others."""
FAR_HEIGHT, FAR_LAYERS = 1.25, 2.0
"""Factors from the design's winding at which the misfit of the others holds."""
STATED = 1.5
"""What is stated over the largest error found at them."""
ORDERS, HALF = 4, 0.75
"""Legendre polynomials over radius, and how far beyond the travel heights are kept, over the
winding's height."""
BEYOND, LEAST_PROBED = 5.0, 40.0
"""Rates over the highest frequency up to which fields are spanned, and the least hertz probed."""
WIDEST = 2.0
"""Build-up over the design's up to which windings are known."""
SHARE = 1e-5
"""Energy that the modes may leave out, over that of each field."""
ROWS = 3
"""Heights per gap width, at least."""
LEAST_ROWS, MOST_ROWS = 81, 161


@dataclass(frozen=True)
class Section:
    """The section of a winding, metres, and its turns, negative if wound the other way."""

    inner: float
    outer: float
    low: float
    high: float
    turns: float


@dataclass(frozen=True)
class WindingModes:
    """Modes of the field and their flux through the room of all windings.

    Parameters
    ----------
    time_constant : (k,) array
        Seconds, rising from 0.
    radius : (float, float)
        Of the room, metres.
    height : (float, float)
        Of its ends above the middle of the gap, metres.
    flux : (k, p, m) array
        Of each mode per Legendre polynomial of the radius, integrated over height from the lower
        end to each of m even places: square root of henry times metre.
    own, far : (2,) array
        Relative errors of inductance and losses against the whole equations that are stated of
        the design's own winding, and of others.
    winding : (float, float)
        Height (m) and build-up (m) of the design's main winding.
    """

    time_constant: Floats
    radius: tuple[float, float]
    height: tuple[float, float]
    flux: Floats
    own: Floats
    far: Floats
    winding: tuple[float, float]

    def misfit(self, height: float, build_up: float) -> Floats:
        """Return the relative errors of inductance and losses of another winding, (2,).

        They grow with the distance of its height and build-up (metres) from the design's.
        """
        far = max(
            abs(math.log(height / self.winding[0])) / math.log(FAR_HEIGHT),
            abs(math.log(build_up / self.winding[1])) / math.log(FAR_LAYERS),
        )
        return np.asarray(self.own + (self.far - self.own) * far)

    def knows(self, sections: Sequence[Section], x: Sequence[float] = (0.0,)) -> bool:
        """Return whether all of a coil lies in the room at displacements in metres."""
        (inner, outer), slack = self.radius, 1e-9
        low, high = self.height[0] - min(x), self.height[1] - max(x)
        return all(
            s.inner >= inner - slack
            and s.outer <= outer + slack
            and s.low >= low - slack
            and s.high <= high + slack
            for s in sections
        )

    def coupling(self, sections: Sequence[Section], x: float) -> Floats:
        """Return what a coil couples to each mode, displaced by x in metres: (k,), sqrt of H."""
        found = np.zeros(len(self.time_constant))
        for one in sections:
            means = self._means(one.inner, one.outer)
            over = self._up_to(one.high + x) - self._up_to(one.low + x)
            found += one.turns / (one.high - one.low) * (over @ means)
        return found

    def linkage(self, sections: Sequence[Section], x: Floats, frequency: Floats) -> Complexes:
        """Return flux linkage over current in henry: array (frequency, position)."""
        squares = np.array([self.coupling(sections, float(at)) for at in x]) ** 2
        omega = 2 * np.pi * np.asarray(frequency, float)[:, None]
        return np.asarray((1 / (1 + 1j * omega * self.time_constant)) @ squares.T)

    def _means(self, inner: float, outer: float) -> Floats:
        """Return the mean of each polynomial between two radii, (p,)."""
        low, high = self.radius
        a, b = (2 * (r - low) / (high - low) - 1 for r in (inner, outer))
        rising = legendre.legvander(np.array([a, b]), ORDERS)
        orders = np.arange(1, ORDERS)
        more = (rising[1] - rising[0])[2:] - (rising[1] - rising[0])[:-2]
        return np.array([1.0, *(more / (2 * orders + 1) / (b - a))])

    def _up_to(self, z: float) -> Floats:
        """Return the integral up to a height, (k, p): a cubic through the four places about it."""
        low, high = self.height
        count = self.flux.shape[2]
        t = (z - low) / (high - low) * (count - 1)
        k = min(max(math.floor(t), 1), count - 3)
        s = t - k
        weights = (
            -s * (s - 1) * (s - 2) / 6,
            (s + 1) * (s - 1) * (s - 2) / 2,
            -(s + 1) * s * (s - 2) / 2,
            (s + 1) * s * (s - 1) / 6,
        )
        found = np.zeros(self.flux.shape[:2])
        for weight, place in zip(weights, range(k - 1, k + 3), strict=True):
            found += weight * self.flux[:, :, place]
        return found


def sections_of(coil: Coil) -> list[Section]:
    """Return the sections of a coil at rest."""
    return [
        Section(
            one.inner_radius,
            one.outer_radius,
            one.rest_position - one.winding_height / 2,
            one.rest_position + one.winding_height / 2,
            turns,
        )
        for one, turns in zip(coil.each, coil.ampere_turns, strict=True)
    ]


@one_blas_thread()
def winding_modes(result: MotorResult, highest: float = 3e3) -> WindingModes:
    """Return modes for other windings in a motor's field, up to a frequency in Hz.

    Raises
    ------
    InvalidInput
        If parts of the coil are in parallel, which share the current as it pleases them.
    SolveError
    """
    design = result.design
    coil = design.coil
    if coil.parts_share:
        raise InvalidInput("coil.connection", "be series for other windings", "parallel")
    with step("the coil's field in modes, for other windings") as now:
        low, high = result.bl_curve.x[[0, -1]]
        x = np.linspace(low, high, max(count for *_, count in SPANNED))
        room = _other(coil, max(h for h, *_ in SPANNED), max(n for _, n, _ in SPANNED))
        about, ends = result.field.fine, _ends(result)
        whole = equations(result, about, x, highest, "reversible", SKIN, AT_COIL, room)
        loads = [
            loads_at(whole.level, one, _way(one, ends, count))
            for one, count in ((_other(coil, h, n), count) for h, n, count in SPANNED)
        ]
        driven = [(0.0, np.hstack(loads))]
        for k, rate in enumerate(rate for rate in RATES if rate <= BEYOND * 2 * np.pi * highest):
            some = slice(EVERY * k // TURNS % EVERY, None, EVERY)
            driven.append((rate, np.hstack([part[:, some] for part in loads])))
        span = modes(whole, driven, SHARE)
        found = _along(result, whole, span)
        own, far = _misfits(found, whole, result, highest)
        now.detail = f"{len(span.times)} modes, {far.max():.1e}"
    return dataclasses.replace(found, own=own, far=far)


def _other(coil: Coil, height: float, layers: float) -> Coil:
    """Return a coil with other heights and layers, over its own, turns as fit."""
    return dataclasses.replace(
        coil,
        winding_height=max(height * coil.winding_height, coil.wire.pitch),
        layers=max(round(layers * coil.layers), 1),
        windings=1,
    )


def _ends(result: MotorResult) -> tuple[float, float]:
    """Return the heights between which windings are known, metres."""
    each, (low, high) = result.design.coil.each, result.bl_curve.x[[0, -1]]
    bottom = min(one.rest_position - (0.5 + HALF) * one.winding_height for one in each)
    top = max(one.rest_position + (0.5 + HALF) * one.winding_height for one in each)
    return float(bottom + low), float(top + high)


def _way(coil: Coil, ends: tuple[float, float], count: int) -> Floats:
    """Return displacements at which a coil goes from one end to the other, metres."""
    return np.linspace(ends[0] - coil.bottom, ends[1] - coil.top, count)


def _along(result: MotorResult, whole: Harmonic, span: Span) -> WindingModes:
    """Return the modes' flux along the way of all windings."""
    coil, gap = result.design.coil, result.design.geometry.gap
    bottom, top = _ends(result)
    inner = min(one.inner_radius for one in coil.each)
    outer = max(one.inner_radius + WIDEST * one.build_up for one in coil.each)
    rows = round(ROWS * (top - bottom) / gap.width) + 1
    z = np.linspace(bottom, top, min(max(rows, LEAST_ROWS), MOST_ROWS))
    points, weights = legendre.leggauss(ORDERS)
    radii = inner + (points + 1) / 2 * (outer - inner)
    level = whole.level
    triangle, bary = level.locate(*(a.ravel() for a in np.broadcast_arrays(radii[:, None], z)))
    shapes, nodes = shape_functions(bary), level.system.nodes[triangle]
    polynomials = legendre.legvander(points, ORDERS - 1)
    along = []
    for vector in span.vectors.T:
        potential = level.system.expand(vector)
        psi = (shapes * potential[nodes].T).sum(axis=0).reshape(len(radii), len(z))
        psi *= math.sqrt(2 * math.pi) * radii[:, None]
        parts = (2 * np.arange(ORDERS)[:, None] + 1) / 2 * (polynomials.T * weights) @ psi
        along.append(CubicSpline(z, parts, axis=1).antiderivative()(z))
    flux = np.array(along, "<f4").astype(float)
    room, ends = (inner, outer), (float(z[0]), float(z[-1]))
    unknown, winding = np.zeros(2), (coil.winding_height, coil.build_up)
    return WindingModes(span.times, room, ends, flux, unknown, unknown, winding)


def _misfits(
    found: WindingModes, whole: Harmonic, result: MotorResult, highest: float
) -> tuple[Floats, Floats]:
    """Return the largest relative errors of the design's own winding and of others, (2,) each."""
    design, (low, high) = result.design, result.bl_curve.x[[0, -1]]
    x = np.array([0.6 * low, 0.0, 0.6 * high])
    coils = [_other(design.coil, height, layers) for height, layers in PROBES]
    coils = [coil for coil in coils if found.knows(sections_of(coil))]
    loads = np.hstack([loads_at(whole.level, coil, x) for coil in coils])
    errors = np.zeros((len(coils), 2))
    for frequency in (LEAST_PROBED, highest):
        exact, _ = linkage_of(design.coil, design.temperature, whole, loads, frequency)
        for k, one in enumerate(np.split(exact, len(coils))):
            off = found.linkage(sections_of(coils[k]), x, np.array([frequency]))[0] - one
            for j, part in enumerate((np.real, np.imag)):
                if part(one).any():
                    errors[k, j] = max(errors[k, j], np.abs(part(off) / part(one)).max())
    return STATED * errors[0], STATED * errors.max(axis=0)
