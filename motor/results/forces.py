"""Magnetic forces along the axis on every part, and what its own attraction does to each joint.

The force on a body that a closed surface in air encloses is the integral of Maxwell's stress over
it (J. C. Maxwell, A Treatise on Electricity and Magnetism, art. 641 to 645, from memory).  Where
two parts touch, the surface runs through an infinitely thin slit of air between them: the flux
density across the slit and the field strength along it are those of the joint.  So each part has
a force of its own, all add up to zero, and the force on a group of parts that are glued together
is the sum of theirs, since what acts across the slit between them cancels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries import Gap, Region, Role
from motor.base.arrays import Floats, Ints
from motor.base.gauss import gauss
from motor.field.field import Estimate, Field, FieldOnMesh
from motor.materials import MU0

__all__ = ["Joint", "MotorForces", "PartForce", "holder_of", "motor_forces"]

POINTS = 3
CHANGE, FLOOR = 2.0, 5e-3
"""Uncertainty: times the change between the meshes, and a share of all stress on the part.

The stress on a side is first order in the mesh only: set on 36 random motors, plain and at the
edges, to hold for 95 %."""


@dataclass(frozen=True)
class PartForce:
    """Axial magnetic force on one part, as if it could part from its neighbours.

    Parameters
    ----------
    region : str
    force : Estimate
        Newton, positive outwards (z).
    """

    region: str
    force: Estimate


@dataclass(frozen=True)
class Joint:
    """Two parts that touch.

    Parameters
    ----------
    between : (str, str)
        The lower and the upper one, by the middle of their outlines.
    area : float
        Of the surface on which they touch, m^2.
    flat : float
        Its area seen along the axis, m^2; the rest is cylindrical and carries shear.
    outer : tuple of str
        The parts beyond the joint, seen from the part that holds the motor; empty where the parts
        hang together another way too, so that the joint's share is not determined by statics.
    pull : Estimate or None
        Newton by which the parts are drawn together (below 0: driven apart) along the axis.
    """

    between: tuple[str, str]
    area: float
    flat: float
    outer: tuple[str, ...]
    pull: Estimate | None

    @property
    def tension(self) -> bool | None:
        """Whether the magnetic force pulls at the joint; None where statics cannot tell."""
        return None if self.pull is None else self.pull.value < 0


@dataclass(frozen=True)
class _Surface:
    """Sides of triangles between two regions, with the traction in newton along the axis.

    ``first`` and ``second`` are indices of regions, the normal points from the first to the
    second; ``axial`` is the force on the first, ``gross`` the same without cancellation.
    """

    first: Ints
    second: Ints
    axial: Floats
    gross: Floats
    area: Floats
    flat: Floats


def _surface(level: FieldOnMesh) -> _Surface:
    """Return all sides between regions with Maxwell's stress on them, as seen in a thin slit."""
    mesh, label = level.system.mesh.mesh, level.system.mesh.label
    left, right = mesh.f2t
    sides = np.flatnonzero(right >= 0)
    sides = sides[label[left[sides]] != label[right[sides]]]
    a, b = (mesh.p[:, mesh.facets[k, sides]] for k in (0, 1))
    along = b - a
    length = np.hypot(*along)
    tangent = along / length
    normal = np.stack([tangent[1], -tangent[0]])
    first, second = left[sides], right[sides]
    middle = mesh.p[:, mesh.t[:, first]].mean(axis=1)
    normal *= np.where(_dot((a + b) / 2 - middle, normal) < 0, -1.0, 1.0)
    slope, offset, linear = _laws(level)
    points, weights = gauss(POINTS)
    axial, gross, area = (np.zeros(len(sides)) for _ in range(3))
    for point, weight in zip(points, weights / weights.sum(), strict=True):
        place = (a + b) / 2 + 0.5 * point * along
        inside, outside = (_in_triangles(level, t, place) for t in (first, second))
        across = 0.5 * (_dot(inside, normal) + _dot(outside, normal))
        h = [
            _dot(slope[t] * flux + offset[:, t], tangent)
            for t, flux in ((first, inside), (second, outside))
        ]
        h_along = np.where(
            linear[first] == linear[second],
            0.5 * (h[0] + h[1]),
            np.where(linear[first], h[0], h[1]),
        )
        pressure = across**2 / (2 * MU0) - MU0 * h_along**2 / 2
        ring = 2 * np.pi * place[0] * length * weight
        axial += ring * (pressure * normal[1] + across * h_along * tangent[1])
        gross += ring * np.hypot(pressure, across * h_along)
        area += ring
    return _Surface(label[first], label[second], axial, gross, area, area * np.abs(normal[1]))


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray((a * b).sum(axis=0))


def _laws(level: FieldOnMesh) -> tuple[Floats, Floats, np.ndarray]:
    """Return H = slope B + offset in each triangle, and where that is a straight line.

    Slope in m/H (n,), offset in A/m (2, n).
    """
    system = level.system
    flux, field = system.flux_density(level.potential), system.field_strength(level.potential)
    size = np.maximum((flux**2).sum(axis=-1), 1e-18)
    slope = ((flux * field).sum(axis=-1) / size).mean(axis=1)
    offset = np.zeros((2, len(flux)))
    for name, magnet in system.magnets.items():
        here = system.mesh.triangles_of(name)
        slope[here] = 1 / (MU0 * magnet.recoil_permeability)
        offset[:, here] = (field[here] - slope[here, None, None] * flux[here]).mean(axis=1).T
    steel = np.zeros(len(flux), bool)
    steel[system.steel.triangles] = True
    return slope, offset, ~steel


def _in_triangles(level: FieldOnMesh, triangle: Ints, place: Floats) -> Floats:
    """Return (B_r, B_z), array (2, n), in given triangles at points (2, n) on their sides."""
    mesh = level.system.mesh
    slopes = mesh.barycentric_slopes(triangle)
    centre = mesh.mesh.p[:, mesh.mesh.t[:, triangle]].mean(axis=1)
    bary = 1 / 3 + np.einsum("kjn,jn->kn", slopes, place - centre)
    return np.asarray(level.flux_density_in(triangle, bary, place[0]).T)


def _forces(surface: _Surface, names: Sequence[str], wanted: Sequence[str]) -> tuple[float, float]:
    """Return the axial force on some regions, and the stress on them without cancellation, N."""
    held = np.isin(names, wanted)
    inside, outside = held[surface.first], held[surface.second]
    force = surface.axial[inside].sum() - surface.axial[outside].sum()
    return float(force), float(surface.gross[inside != outside].sum())


@dataclass(frozen=True)
class MotorForces:
    """Axial magnetic forces on the parts of a motor.

    Parameters
    ----------
    holder : str
        The part that holds the motor.
    parts : tuple of PartForce
    joints : tuple of Joint
    """

    holder: str
    parts: tuple[PartForce, ...]
    joints: tuple[Joint, ...]

    @property
    def sum(self) -> float:
        """Sum of all forces in newton; 0 but for the numerical error."""
        return sum(part.force.value for part in self.parts)


def motor_forces(field: Field, holder: str) -> MotorForces:
    """Return the force on every part and across every joint.

    Parameters
    ----------
    field : Field
    holder : str
        Name of the region that is held, by the basket.
    """
    names = field.fine.system.mesh.names
    fine = _surface(field.fine)
    coarse = fine if field.coarse is field.fine else _surface(field.coarse)

    def force(wanted: Sequence[str]) -> Estimate:
        value, gross = _forces(fine, names, wanted)
        if coarse is fine:
            return Estimate(value, math.nan)
        change = abs(value - _forces(coarse, names, wanted)[0])
        return Estimate(value, CHANGE * change + FLOOR * gross)

    parts = tuple(PartForce(r.name, force([r.name])) for r in field.regions)
    found = []
    touching = _hung(field.regions, _touching(field, fine, names))
    for pair, (area, flat) in touching.items():
        beyond = _beyond(pair, list(touching), holder)
        pull = None
        if beyond:
            on_it = force(beyond)
            pull = on_it if pair[0] in beyond else Estimate(-on_it.value, on_it.uncertainty)
        found.append(Joint(pair, area, flat, beyond, pull))
    return MotorForces(holder, parts, tuple(found))


def _touching(
    field: Field, surface: _Surface, names: Sequence[str]
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the pairs of parts that touch, lower one first, with their area and its flat share."""
    place = {r.name: float(np.mean([z for _, z in r.outline])) for r in field.regions}
    found: dict[tuple[str, str], tuple[float, float]] = {}
    for i, j in sorted({*zip(surface.first.tolist(), surface.second.tolist(), strict=True)}):
        if {names[i], names[j]} <= place.keys():
            here = (surface.first == i) & (surface.second == j)
            low, high = sorted((names[i], names[j]), key=lambda name: (place[name], name))
            area, flat = found.get((low, high), (0.0, 0.0))
            found[low, high] = (
                area + float(surface.area[here].sum()),
                flat + float(surface.flat[here].sum()),
            )
    return found


def _hung(
    regions: Sequence[Region], touching: dict[tuple[str, str], tuple[float, float]]
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the joints that carry: a conducting ring hangs on the one part it touches most."""
    rings = {r.name for r in regions if r.role is Role.CONDUCTOR}
    kept = {pair: areas for pair, areas in touching.items() if not rings & {*pair}}
    for ring in sorted(rings):
        own = {p: v for p, v in touching.items() if ring in p and rings & {*p} == {ring}}
        if own:
            most = max(own, key=lambda pair: own[pair])
            kept[most] = own[most]
    return kept


def _beyond(cut: tuple[str, str], pairs: Sequence[tuple[str, str]], holder: str) -> tuple[str, ...]:
    """Return the parts that only the cut joint ties to the holder; none if there is another way."""
    held = _reached(holder, cut, pairs)
    sides = [name for name in cut if name not in held]
    return tuple(sorted(_reached(sides[0], cut, pairs))) if len(sides) == 1 else ()


def _reached(start: str, cut: tuple[str, str], pairs: Sequence[tuple[str, str]]) -> set[str]:
    """Return the parts that hang together with one, the cut joint left out."""
    found, edge = {start}, [start]
    while edge:
        here = edge.pop()
        for pair in pairs:
            if pair != cut and here in pair:
                other = pair[1] if pair[0] == here else pair[0]
                if other not in found:
                    found.add(other)
                    edge.append(other)
    return found


def holder_of(regions: Sequence[Region], gap: Gap) -> str:
    """Return the steel around the gap, which the basket is fixed to: common practice, no source."""
    near = [
        (min(abs(r - gap.outer_radius) for r, _ in region.outline), region.name)
        for region in regions
        if region.role is Role.STEEL
    ]
    return min(near)[1]
