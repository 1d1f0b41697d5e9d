"""Where the flux goes: magnets' working points, flux budget, and the steel's load."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import Gap, Role, chords, volume
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.base.drawable import Drawable
from motor.base.gauss import gauss
from motor.field.exterior import Multipoles
from motor.field.field import Estimate, Field, FieldOnMesh, Goal
from motor.field.weak_form import MagnetState
from motor.results.gap import ACROSS, gap_flux

__all__ = [
    "FluxBudget",
    "SteelLoad",
    "WorkingPoint",
    "flux_budget",
    "leakage_to_coil",
    "magnet_flux",
    "magnets_flux",
    "steel_loads",
    "stray_field",
    "utilisation",
    "working_points",
]

NEAR = 1.05
"""Radius over the motor's reach of the circle that the field outside is continued from."""
STRAY_ANGLES = 181

STRAY_FACTOR, STEEL_FACTOR, ENERGY_FACTOR, LEAKAGE_FACTOR = 1.75, 1.4, 2.8, 1.3
POINT_FACTOR, TO_COIL_FACTOR = 0.7, 0.88
"""What the error model's bound is multiplied by for stray field, mean flux density of steel, energy
of the gap, leakage factor, B and H of working points and the leakage factor to the coil, whose
errors are not those of Bl: set on 264 random motors and 24 drawn ones to hold for 95 %."""
OPPOSED = 0.1
"""Share of the goal's scatter that is added to the stray field's uncertainty, times the field by
which opposing magnets cancel outside: set on 21 drawn motors."""
PEAK_SHARE = 1e-3
"""The peak flux density of a part is what is exceeded in this share of its volume.

At a sharp corner the field of the model is singular: the very largest value would only tell
how fine the mesh is.
"""
PEAK_CHANGE, PEAK_BEND, PEAK_FLOOR = 0.65, 0.65, 0.009
"""Shares of three parts of the peak's uncertainty, which add as squares: its change between the
meshes; how unevenly flux density falls from half of PEAK_SHARE to twice that, by as much as single
triangles decide where the peak is read; and the value itself, since both meshes have the same
triangles at the corners.  Set on 288 motors to hold for 95 %."""


@dataclass(frozen=True)
class WorkingPoint:
    """Mean state of a magnet along its magnetisation.

    Parameters
    ----------
    region : str
    flux_density : Estimate
        Volume mean of B along the magnetisation, tesla.
    field : Estimate
        Volume mean of H along the magnetisation, A/m (negative: demagnetising).
    permeance : Estimate
        Permeance coefficient -B / (mu0 H); infinite without a demagnetising field.
    """

    region: str
    flux_density: Estimate
    field: Estimate
    permeance: Estimate


@dataclass(frozen=True)
class FluxBudget(Drawable):
    """Flux through magnet and gap in weber.

    Parameters
    ----------
    magnet : Estimate
        Sum over all magnets of the flux through the middle plane, each along its magnetisation;
        magnets stacked in series count each.
    gap : Estimate
        Through the gap at the winding's mean radius, over the gap's depth.
    rest : Estimate
        Flux that leaves the magnets but does not cross the gap.
    leakage_factor : Estimate
        Magnet flux over gap flux.
    """

    magnet: Estimate
    gap: Estimate
    rest: Estimate
    leakage_factor: Estimate


@dataclass(frozen=True)
class SteelLoad:
    """Flux density of one steel part, tesla.

    Parameters
    ----------
    region : str
    peak : Estimate
        Exceeded in one thousandth of the part's volume only.
    mean : Estimate
        Volume mean of |B|.
    """

    region: str
    peak: Estimate
    mean: Estimate


def _samples(level: FieldOnMesh, region: str) -> tuple[Floats, Floats]:
    """Return (B_r, B_z) and volumes (2 pi r dr dz) at a region's quadrature points."""
    here = level.system.mesh.triangles_of(region)
    b = level.flux_densities_of(region).reshape(-1, 2)
    return b, 2 * np.pi * level.system.weight[here].ravel()


def remanence_left(level: FieldOnMesh, region: str) -> float:
    """Return the mean share of a magnet's remanence that is left."""
    here = level.system.mesh.triangles_of(region)
    volume = level.system.weight[here].sum(axis=1)
    left = np.broadcast_to(level.system.shares.get(region, 1.0), volume.shape)
    return float(left @ volume / volume.sum())


def working_points(field: Field, magnets: Mapping[str, MagnetState]) -> list[WorkingPoint]:
    """Return the mean working point of every magnet region."""
    points = []
    for name, magnet in magnets.items():
        fine, coarse = (_state(level, name, magnet) for level in (field.fine, field.coarse))
        b = math.hypot(*magnet.remanence)
        scales = (b, b / (MU0 * magnet.recoil_permeability), fine[2] * (1 + fine[2]))
        mean, strength, permeance = _estimates(field, fine, coarse, scales)
        mean, strength = mean.widened(POINT_FACTOR), strength.widened(POINT_FACTOR)
        points.append(WorkingPoint(name, mean, strength, permeance))
    return points


def _state(level: FieldOnMesh, name: str, magnet: MagnetState) -> tuple[float, float, float]:
    """Return mean B and H along a magnet's magnetisation (T, A/m), and its permeance."""
    remanence = math.hypot(*magnet.remanence)
    b, volume = _samples(level, name)
    mean = float(b @ (np.array(magnet.remanence) / remanence) @ volume / volume.sum())
    left = remanence * remanence_left(level, name)
    h = (mean - left) / (MU0 * magnet.recoil_permeability)
    return mean, h, -mean / (MU0 * h) if h < 0 else math.inf


def _estimates(
    field: Field, fine: Sequence[float], coarse: Sequence[float], scales: Sequence[float]
) -> list[Estimate]:
    """Return values with their uncertainties, relative to scales; infinite ones are exact."""
    return [
        Estimate(f, field.errors.bound(f, c, scale) if math.isfinite(f + c) else 0.0)
        for f, c, scale in zip(fine, coarse, scales, strict=True)
    ]


def magnet_flux(level: FieldOnMesh, field: Field, name: str) -> float:
    """Return the flux in Wb through the middle plane of a magnet along its magnetisation.

    Exact for axial and radial magnetisation; otherwise the plane across the larger component.
    """
    region = field.region(name)
    assert region.magnetisation is not None
    m_r, m_z = region.magnetisation
    r = [p[0] for p in region.outline]
    z = [p[1] for p in region.outline]
    if abs(m_z) >= abs(m_r):
        middle = (min(z) + max(z)) / 2
        pieces = np.array(chords(region, height=middle))
        psi = level.flux_function(pieces, middle)
        total = float((psi[:, 1] - psi[:, 0]).sum()) * math.copysign(1.0, m_z)
    else:
        middle = (min(r) + max(r)) / 2
        pieces = np.array(chords(region, radius=middle))
        psi = level.flux_function(middle, pieces)
        total = float((psi[:, 0] - psi[:, 1]).sum()) * math.copysign(1.0, m_r)
    return 2 * math.pi * total


def magnets_flux(level: FieldOnMesh, field: Field) -> float:
    """Return the flux in Wb through all magnets, each along its magnetisation."""
    names = [region.name for region in field.regions if region.role is Role.MAGNET]
    return sum(magnet_flux(level, field, name) for name in names)


def flux_budget(field: Field, gap: Gap, coil_radius: float) -> FluxBudget:
    """Return the flux through all magnets and through the gap at a radius (metres)."""

    def through_gap(level: FieldOnMesh) -> float:
        return abs(gap_flux(level, gap, coil_radius))

    def through_magnets(level: FieldOnMesh) -> float:
        return magnets_flux(level, field)

    def parts(level: FieldOnMesh) -> tuple[float, float, float, float]:
        magnets, gap = through_magnets(level), through_gap(level)
        return magnets, gap, magnets - gap, magnets / gap if gap else math.inf

    fine = parts(field.fine)
    coarse = fine if field.coarse is field.fine else parts(field.coarse)
    magnet = field.errors.estimate(fine[0], coarse[0])
    crossing = field.errors.estimate(fine[1], coarse[1]).widened(ACROSS)
    other, share = _estimates(field, fine[2:], coarse[2:], (magnet.value, fine[3]))
    return FluxBudget(magnet, crossing, other, share.widened(LEAKAGE_FACTOR))


def leakage_to_coil(field: Field, goal: Goal, per_bl: float) -> Estimate:
    """Return the flux through all magnets over the flux that a winding cuts, inf if that is 0.

    ``goal`` gives the winding's Bl at rest, of which ``per_bl`` (Wb per T m) makes that flux.
    """

    def factor(level: FieldOnMesh) -> float:
        cut = abs(float(goal(level) @ level.solution.reduced)) * per_bl
        return magnets_flux(level, field) / cut if cut else math.inf

    return field.estimate(factor).widened(TO_COIL_FACTOR)


def utilisation(field: Field, gap: Gap, most: float) -> Estimate:
    """Return the field energy of all gaps over the most that there could be, in joule."""
    energy = field.estimate(lambda level: sum(gap_energy(level, g) for g in gap.all) / most)
    return energy.widened(ENERGY_FACTOR)


def gap_energy(level: FieldOnMesh, gap: Gap) -> float:
    """Return the field energy in joule of the gap between steel and steel, over its depth."""
    points, weights = gauss(24)
    r = gap.mean_radius + gap.width / 2 * points
    z = (gap.bottom + gap.top) / 2 + gap.depth / 2 * points
    b = level.flux_density(r[:, None], z[None, :])
    density = (b**2).sum(axis=-1) / (2 * MU0) * 2 * np.pi * r[:, None]
    return float(weights @ density @ weights) * gap.width * gap.depth / 4


def stray_field(field: Field, distance: float) -> Estimate:
    """Return the largest |B| in tesla on a sphere, ``distance`` (m) outside the motor's reach.

    From the multipoles of the potential on a circle just outside the motor, where the mesh is
    still fine; closer than that from the mesh itself.
    """
    largest = field.estimate(lambda level: level.once(_largest, distance))
    found = largest.widened(STRAY_FACTOR)
    radius = field.fine.system.mesh.partition.reach + distance
    opposed = OPPOSED * field.errors.scatter * opposed_field(field, radius)
    return Estimate(found.value, found.uncertainty + opposed)


def _largest(level: FieldOnMesh, distance: float) -> float:
    """Return the largest |B| in tesla on a sphere, ``distance`` (m) outside the motor's reach."""
    part = level.system.mesh.partition
    radius, ring = part.reach + distance, NEAR * part.reach
    if radius < ring:
        angle = np.linspace(-np.pi / 2, np.pi / 2, STRAY_ANGLES)
        b = level.flux_density(radius * np.cos(angle), part.centre + radius * np.sin(angle))
    else:
        multipoles = Multipoles.of(level.potential_at, ring, part.centre)
        b = multipoles.around(radius, STRAY_ANGLES)
    return float(np.hypot(b[:, 0], b[:, 1]).max())


def opposed_field(field: Field, radius: float) -> float:
    """Return the dipole field in tesla by which magnets cancel, on their axis (radius in m)."""
    moments = [
        magnet.remanence[1] / MU0 * volume(field.region(name))
        for name, magnet in field.fine.system.magnets.items()
    ]
    cancelled = sum(map(abs, moments)) - abs(sum(moments))
    return MU0 * cancelled / (2 * math.pi * radius**3)


def steel_loads(field: Field) -> list[SteelLoad]:
    """Return peak and mean flux density of every steel part."""
    loads = []
    for region in field.regions:
        if region.role is not Role.STEEL:
            continue
        fine, coarse = (level.once(_load, region.name) for level in (field.fine, field.coarse))
        half, peak, twice = fine.exceeded
        parts = (
            PEAK_CHANGE * (peak - coarse.exceeded[1]),
            PEAK_BEND * (half - 2 * peak + twice),
            PEAK_FLOOR * peak,
        )
        spread = math.nan if field.fine is field.coarse else math.hypot(*parts)
        mean = field.errors.estimate(fine.mean, coarse.mean).widened(STEEL_FACTOR)
        loads.append(SteelLoad(region.name, Estimate(peak, spread), mean))
    return loads


@dataclass(frozen=True)
class _Load:
    """Flux density of a steel part in tesla.

    Parameters
    ----------
    exceeded : (float, float, float)
        In half of PEAK_SHARE of the volume, in all of it and in twice that.
    mean : float
        Over the volume.
    """

    exceeded: tuple[float, float, float]
    mean: float


def _load(level: FieldOnMesh, name: str) -> _Load:
    """Return the flux density of a steel part."""
    b, volume = _samples(level, name)
    size = np.hypot(b[:, 0], b[:, 1])
    order = np.argsort(size)
    share = np.cumsum(volume[order]) / volume.sum()
    at = np.searchsorted(share, 1 - PEAK_SHARE * np.array([0.5, 1.0, 2.0]))
    half, peak, twice = map(float, size[order][np.minimum(at, len(order) - 1)])
    return _Load((half, peak, twice), float(size @ volume / volume.sum()))
