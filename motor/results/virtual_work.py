"""Axial force on parts by virtual work, from stresses in air and magnets and forces on magnets.

In air and in magnets of uniform remanence Br, H = (B - Br) / mu, the stress

    T_ij = H_i B_j - delta_ij (mu H^2 / 2 + Br . H)

has no divergence (in air Maxwell's, J. C. Maxwell, A Treatise on Electricity and Magnetism, art.
641 to 645, from memory; in magnets by its own divergence, div B = 0 and curl H = 0).  A virtual
motion that is 1 on a part, 0 on every other and on the outer circle, and harmonic between, its
share g of the motion, turns the integral over the part's surface into one over the volume,

    F = - integral of  T_zj dg/dx_j  2 pi r dr dz

(J. L. Coulomb, IEEE Transactions on Magnetics 19, 1983, 2514-2519; from memory): a mean over all
surfaces between the parts, and no corner of steel lies on it.

Where parts touch, the force is that with an infinitely thin slit of air between them, which has
the joint's flux density across and field strength along.  What acts in a slit cancels for parts
that move together, so the force on a group is the sum of its parts'.  At the surface of a magnet
the stress jumps from the slit's to the magnet's own by f, the force on its bound currents, nearly
linear in the field.  The force on a magnet is the integral of f over its surface; steel has the
volume's, with g harmonic through magnets too, less the integral of f g.  Parts that touch no other
take g = 1 on magnets and nothing but the stress in the air.
"""

from __future__ import annotations

import functools
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import scipy.sparse.linalg
from skfem import Basis, ElementTriP1
from skfem.models.poisson import laplace

from motor.base.arrays import Bools, Floats, Ints
from motor.base.constants import MU0
from motor.base.gauss import gauss
from motor.field.field import FieldOnMesh
from motor.field.partition import AIR

__all__ = ["Sides", "Stress", "stress_of"]

POINTS = 3


@dataclass(frozen=True)
class Sides:
    """Sides of triangles on the surfaces of parts, with what acts on them along the axis.

    Parameters
    ----------
    first, second : (n,) array of int
        Parts on either side, -1 for air; the normal points from the first to the second.
    slit : (n,) array
        Force on the first in a thin slit, N.
    bound : (2, n) array
        Force f on the magnet that is the first and the second, N; 0 where that is none.
    gross : (n,) array
        The slit's stress without cancellation, N.
    area, flat : (n,) array
        m^2, and as seen along the axis.
    vertices : (2, n) array of int
    """

    first: Ints
    second: Ints
    slit: Floats
    bound: Floats
    gross: Floats
    area: Floats
    flat: Floats
    vertices: Ints

    @property
    def joints(self) -> Bools:
        """Which sides lie between two parts."""
        return np.asarray((self.first >= 0) & (self.second >= 0) & (self.first != self.second))


@dataclass(frozen=True)
class Stress:
    """All that axial forces are read off from on one level.

    Parameters
    ----------
    level : FieldOnMesh
    names : tuple of str
        All parts.
    steel, magnet : (k,) array of bool
        Which of them are what; the others carry no force.
    part : (n,) array of int
        Each triangle's part; -1 for air.
    sides : Sides
    flow : (2, n) array
        Integral of (T_zr, T_zz) over each triangle of air or magnet, N m.
    size : (n,) array
        The same of the energy density.
    """

    level: FieldOnMesh
    names: tuple[str, ...]
    steel: Bools
    magnet: Bools
    part: Ints
    sides: Sides
    flow: Floats
    size: Floats

    def routes(self, moving: Collection[str]) -> tuple[tuple[float, float], ...]:
        """Return the force on parts that move together by each route, and the stress it is of.

        Newton, positive outwards; the second of each pair is the stress without cancellation.
        Through the magnets alone where a part touches one that stays, else through the air alone
        too, first.  Parts that are neither steel nor magnet carry no force.
        """
        held = np.isin(self.names, list(moving))
        active = self.steel | self.magnet
        sides = self.sides
        inside, outside = (held[k] & (k >= 0) for k in (sides.first, sides.second))
        cut = sides.joints & (inside != outside) & active[sides.first] & active[sides.second]
        if not (held & active).any():
            return ((0.0, 0.0),)
        share, slope = (values[held & self.steel].sum(axis=0) for values in self._through_magnets)
        force = -(self.flow * slope).sum()
        force -= sides.bound.sum(axis=0) @ share[sides.vertices].mean(axis=0)
        for bound, k in zip(sides.bound, (sides.first, sides.second), strict=True):
            force += bound[(held & self.magnet)[k] & (k >= 0)].sum()
        bare = cut & self.steel[sides.first] & self.steel[sides.second]
        force += sides.slit[bare & inside].sum() - sides.slit[bare & outside].sum()
        gross = sides.gross[inside != outside].sum()
        if cut.any():
            return ((float(force), float(gross)),)
        slope = self._beside_magnets[held].sum(axis=0)
        beside = -(self.flow * slope).sum()
        gross = (self.size * np.hypot(*slope)).sum()
        return ((float(beside), float(gross)), (float(force), float(gross)))

    @functools.cached_property
    def _through_magnets(self) -> tuple[Floats, Floats]:
        """Each steel part's share of the motion at the vertices, and its slopes."""
        shares = _shares(self.level, self.part, self.steel)
        return shares, _slopes(self.level, shares)

    @functools.cached_property
    def _beside_magnets(self) -> Floats:
        """Slopes of each part's share of the air's motion."""
        return _slopes(self.level, _shares(self.level, self.part, self.steel | self.magnet))


def stress_of(level: FieldOnMesh) -> Stress:
    """Return the stress in air and magnets, and on the surfaces of parts, of a solved level."""
    system = level.system
    names = tuple(n for n in system.mesh.names if n != AIR)
    part = np.array([names.index(n) if n in names else -1 for n in system.mesh.names])
    part = part[system.mesh.label]
    steel, magnet = (np.isin(names, list(kind)) for kind in (system.steels, system.magnets))
    b, h = level.flux_densities, level.field_strengths
    slope, offset = _laws(level)
    nu = slope[:, None]
    size = (b**2).sum(axis=-1)
    remanence2 = (offset**2).sum(axis=0)[:, None] / nu  # nu Br^2
    # mu H^2 / 2 + Br . H, with H = nu (B - Br)
    pressure = nu * size / 2 - remanence2 / 2
    weight = 2 * np.pi * system.weight
    flow = np.stack(
        [(weight * h[..., 1] * b[..., 0]), weight * (h[..., 1] * b[..., 1] - pressure)]
    ).sum(axis=-1)
    energy = (weight * nu * size / 2).sum(axis=1)
    inside = np.isin(part, np.flatnonzero(steel))
    flow[:, inside], energy[inside] = 0.0, 0.0
    sides = _sides(level, part, magnet, slope, offset)
    return Stress(level, names, steel, magnet, part, sides, flow, energy)


def _slopes(level: FieldOnMesh, shares: Floats) -> Floats:
    """Return the slopes of shares at the vertices: array (part, 2, triangle)."""
    grid = level.system.mesh
    everywhere = np.arange(grid.mesh.nelements)
    of = grid.barycentric_slopes(everywhere)
    return np.asarray(np.einsum("kvn,vjn->kjn", shares[:, grid.mesh.t], of))


def _shares(level: FieldOnMesh, part: Ints, pinned: Bools) -> Floats:
    """Return each pinned part's share of the motion at the vertices: array (part, vertex).

    A vertex that several parts share moves with each by its part.
    """
    mesh = level.system.mesh.mesh
    shares = np.zeros((len(pinned), mesh.nvertices))
    for k in np.flatnonzero(pinned):
        shares[k, np.unique(mesh.t[:, part == k])] = 1.0
    owners = shares.sum(axis=0)
    shares /= np.maximum(owners, 1.0)
    loose = np.flatnonzero(~np.isin(part, np.flatnonzero(pinned)))
    between = Basis(mesh, ElementTriP1(), elements=loose)
    facets = mesh.boundary_facets()
    outer = facets[mesh.p[0, mesh.facets[:, facets]].max(axis=0) > 1e-12]
    held = (owners > 0) | np.isin(np.arange(mesh.nvertices), mesh.facets[:, outer])
    free = np.setdiff1d(np.unique(mesh.t[:, loose]), np.flatnonzero(held))
    matrix = laplace.assemble(between).tocsc()
    right = -(matrix[free][:, np.flatnonzero(held)] @ shares[:, held].T)
    shares[:, free] = scipy.sparse.linalg.splu(matrix[free][:, free]).solve(right).T
    return shares


def _sides(level: FieldOnMesh, part: Ints, magnet: Bools, slope: Floats, offset: Floats) -> Sides:
    """Return all sides where parts meet air or each other, or a magnet's remanence changes."""
    mesh = level.system.mesh.mesh
    left, right = mesh.f2t
    sides = np.flatnonzero(right >= 0)
    one, other = left[sides], right[sides]
    uneven = np.abs(offset[:, one] - offset[:, other]).max(axis=0) > 1e-9 * np.abs(offset).max()
    sides = sides[(part[one] != part[other]) | uneven]
    a, b = (mesh.p[:, mesh.facets[k, sides]] for k in (0, 1))
    along = b - a
    length = np.hypot(*along)
    tangent = along / length
    normal = np.stack([tangent[1], -tangent[0]])
    first, second = left[sides], right[sides]
    middle = mesh.p[:, mesh.t[:, first]].mean(axis=1)
    normal *= np.where(_dot((a + b) / 2 - middle, normal) < 0, -1.0, 1.0)
    linear = np.ones(mesh.nelements, bool)
    linear[level.system.steel.triangles] = False
    bears = np.append(magnet, False)[part]
    points, weights = gauss(POINTS)
    slit, gross, area = (np.zeros(len(sides)) for _ in range(3))
    bound = np.zeros((2, len(sides)))
    for point, weight in zip(points, weights / weights.sum(), strict=True):
        place = (a + b) / 2 + 0.5 * point * along
        flux = [_in_triangles(level, t, place) for t in (first, second)]
        across = 0.5 * (_dot(flux[0], normal) + _dot(flux[1], normal))
        h = [
            _dot(slope[t] * x + offset[:, t], tangent)
            for t, x in zip((first, second), flux, strict=True)
        ]
        h_along = np.where(
            linear[first] == linear[second],
            0.5 * (h[0] + h[1]),
            np.where(linear[first], h[0], h[1]),
        )
        ring = 2 * np.pi * place[0] * length * weight
        pressure = across**2 / (2 * MU0) - MU0 * h_along**2 / 2
        traction = pressure * normal[1] + across * h_along * tangent[1]
        slit += ring * traction
        gross += ring * np.hypot(pressure, across * h_along)
        area += ring
        for k, t in enumerate((first, second)):
            # the magnet's own stress at the same flux density across and field along
            nu, rest = slope[t], offset[:, t]
            h_across = nu * across + _dot(rest, normal)
            b_along = (h_along - _dot(rest, tangent)) / nu
            squares = nu * (across**2 + b_along**2) / 2 - _dot(rest, rest) / (2 * nu)
            h_z = h_across * normal[1] + h_along * tangent[1]
            own = h_z * across - squares * normal[1]
            bound[k] += np.where(bears[t], ring * (traction - own) * (1 - 2 * k), 0.0)
    flat = area * np.abs(normal[1])
    vertices = mesh.facets[:, sides]
    return Sides(part[first], part[second], slit, bound, gross, area, flat, vertices)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray((a * b).sum(axis=0))


def _laws(level: FieldOnMesh) -> tuple[Floats, Floats]:
    """Return H = slope B + offset in each triangle: slope in m/H (n,), offset in A/m (2, n)."""
    system = level.system
    flux, field = level.flux_densities, level.field_strengths
    size = np.maximum((flux**2).sum(axis=-1), 1e-18)
    slope = ((flux * field).sum(axis=-1) / size).mean(axis=1)
    offset = np.zeros((2, len(flux)))
    for name, magnet in system.magnets.items():
        here = system.mesh.triangles_of(name)
        slope[here] = 1 / (MU0 * magnet.recoil_permeability)
        offset[:, here] = (field[here] - slope[here, None, None] * flux[here]).mean(axis=1).T
    return slope, offset


def _in_triangles(level: FieldOnMesh, triangle: Ints, place: Floats) -> Floats:
    """Return (B_r, B_z), array (2, n), in given triangles at points (2, n) on their sides."""
    mesh = level.system.mesh
    slopes = mesh.barycentric_slopes(triangle)
    centre = mesh.mesh.p[:, mesh.mesh.t[:, triangle]].mean(axis=1)
    bary = 1 / 3 + np.einsum("kjn,jn->kn", slopes, place - centre)
    return np.asarray(level.flux_density_in(triangle, bary, place[0]).T)
