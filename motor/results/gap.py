"""The radial flux density along the gap."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from geometries import Gap
from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.field.field import Estimate, Field, FieldOnMesh

__all__ = [
    "ACROSS",
    "GapProfile",
    "along_gap",
    "further_means",
    "gap_flux",
    "gap_profile",
    "largest_in_gap",
    "profile_reach",
]

SAMPLES = 241
KNOTS, LEAST_KNOTS = 4, 5
"""Spline knots per gap width, and the fewest in one material."""
ACROSS = 1.1
"""What the error model's bound is multiplied by for the flux through a gap, whose errors are not
those of Bl: set on 252 motors to hold for 97 %."""
POINTWISE, OVERALL = 0.41, 0.12
"""Shares that are stated of the largest change nearby and of the root of its mean square; see
:func:`gap_profile`."""


@dataclass(frozen=True)
class GapProfile(Drawable):
    """B_r along z at two radii, positive where the flux through the gap is.

    Parameters
    ----------
    z : (n,) array
        Heights above the middle of the gap, metres.
    at_coil, at_middle : (n,) array
        B_r in tesla at the winding's mean radius and in the middle of the gap.
    uncertainty : (n,) array
        Numerical uncertainty of ``at_coil`` in tesla.
    coil_radius, middle_radius : float
        Those radii in metres.
    gap : Gap
    mean : Estimate
        Mean over the gap's depth at the winding's mean radius, tesla.
    """

    z: Floats
    at_coil: Floats
    at_middle: Floats
    uncertainty: Floats
    coil_radius: float
    middle_radius: float
    gap: Gap
    mean: Estimate

    @property
    def peak(self) -> Estimate:
        """Largest B_r at the winding's mean radius, tesla."""
        at = self.at_coil.argmax()
        return Estimate(float(self.at_coil[at]), float(self.uncertainty[at]))


def gap_flux(level: FieldOnMesh, gap: Gap, radius: float) -> float:
    """Return the outward flux in Wb through a cylinder (radius in m) over the gap's depth."""
    ends = level.flux_function(radius, np.array([gap.bottom, gap.top]))
    return 2 * np.pi * float(ends[0] - ends[1])


def radial_flux_density(level: FieldOnMesh, radius: float, z: Floats, step: float) -> Floats:
    """Return B_r in tesla at one radius and rising heights (metres), smooth within a material.

    B_r = -(1/r) d psi/dz of a spline through psi at heights about ``step`` apart, material by
    material.  psi is continuous and of higher order than its derivative in each triangle, which
    jumps from one to the next: half its error, a third of its largest.
    """
    label = level.system.mesh.label[level.locate(np.full_like(z, radius), z)[0]]
    pieces = np.split(np.arange(len(z)), np.flatnonzero(np.diff(label)) + 1)
    found = []
    for piece in pieces:
        heights = z[piece]
        count = round((heights[-1] - heights[0]) / step) + 1
        if count < LEAST_KNOTS:
            found.append(level.flux_density(radius, heights)[:, 0])
            continue
        knots = np.linspace(heights[0], heights[-1], count)
        psi = CubicSpline(knots, level.flux_function(radius, knots))
        found.append(-psi(heights, 1) / radius)
    return np.concatenate(found)


def further_means(field: Field, gap: Gap) -> list[Estimate]:
    """Return the mean B_r in tesla half way across each further gap.

    Positive where the flux crosses it as it does the first one.
    """
    first = gap_flux(field.fine, gap, gap.mean_radius)
    sign = 1.0 if first >= 0 else -1.0

    def mean(level: FieldOnMesh, one: Gap) -> float:
        area = 2 * np.pi * one.mean_radius * one.depth
        return sign * gap_flux(level, one, one.mean_radius) / area

    return [field.estimate(functools.partial(mean, one=one)).widened(ACROSS) for one in gap.further]


def profile_reach(gap: Gap, winding_height: float) -> float:
    """Return how far beyond either end of the gap its profile reaches, metres."""
    return max(gap.depth, 3 * gap.width, winding_height / 2)


def _along(level: FieldOnMesh, radius: float, low: float, high: float, step: float) -> Floats:
    """Return B_r (SAMPLES,) in tesla between two heights, as :func:`gap_profile` samples it."""
    return radial_flux_density(level, radius, np.linspace(low, high, SAMPLES), step)


def largest_in_gap(level: FieldOnMesh, gap: Gap, radius: float, winding_height: float) -> float:
    """Return the largest B_r in tesla of a profile as :func:`gap_profile` samples it."""
    reach = profile_reach(gap, winding_height)
    low, high = gap.bottom - reach, gap.top + reach
    sign = 1.0 if gap_flux(level, gap, radius) >= 0 else -1.0
    return float((sign * level.once(_along, radius, low, high, gap.width / KNOTS)).max())


def along_gap(level: FieldOnMesh, gap: Gap, like: GapProfile) -> Floats:
    """Return B_r (n,) in tesla where another profile is, at the coil's radius, and as smooth."""
    radius, low, high = like.coil_radius, float(like.z[0]), float(like.z[-1])
    sign = 1.0 if gap_flux(level, gap, radius) >= 0 else -1.0
    return sign * level.once(_along, radius, low, high, like.gap.width / KNOTS)


def gap_profile(field: Field, gap: Gap, coil_radius: float, reach: float) -> GapProfile:
    """Sample B_r along the gap and ``reach`` beyond either end (metres).

    Its uncertainty has three parts, which add as squares: POINTWISE times the largest change
    between the meshes within a knot's distance, since point by point that is now larger, now
    smaller; OVERALL times the root mean square of all changes; and the error model's.
    """
    z = np.linspace(gap.bottom - reach, gap.top + reach, SAMPLES)

    def mean(level: FieldOnMesh) -> float:
        return gap_flux(level, gap, coil_radius) / (2 * np.pi * coil_radius * gap.depth)

    sign = 1.0 if mean(field.fine) >= 0 else -1.0
    step = gap.width / KNOTS
    fine = sign * radial_flux_density(field.fine, coil_radius, z, step)
    coarse = fine
    if field.coarse is not field.fine:
        coarse = sign * radial_flux_density(field.coarse, coil_radius, z, step)
    beside = round(step / (z[1] - z[0]) / 2)
    change = np.abs(fine - coarse)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(change, beside), 1 + 2 * beside)
    nearby = POINTWISE * around.max(axis=1)
    overall = OVERALL * float(np.sqrt(np.mean(change**2)))
    field_error = field.errors.bounds(fine, fine, float(np.abs(fine).max()))
    return GapProfile(
        z=z,
        at_coil=fine,
        at_middle=sign * radial_flux_density(field.fine, gap.mean_radius, z, step),
        uncertainty=np.sqrt(nearby**2 + overall**2 + field_error**2),
        coil_radius=coil_radius,
        middle_radius=gap.mean_radius,
        gap=gap,
        mean=field.estimate(lambda level: sign * mean(level)).widened(ACROSS),
    )
