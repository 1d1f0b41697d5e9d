"""The weak form of axisymmetric magnetostatics, discretised on second-order triangles.

Unknown: the azimuthal vector potential A; flux function psi = r A, flux through a disc 2 pi psi.

    B = (B_r, B_z) = (-dA/dz, (1/r) d(r A)/dr)

Find A with A = 0 on the axis so that for every test function v

    integral of  H(A) . B(v)  r dr dz   +  outer boundary term  =  integral of  J v  r dr dz

with H = nu(|B|) B in steel and H = (nu0/mu_rec) (B - Br) in magnets.  This is the stationary
point of a convex energy.  Beyond the outer boundary the field goes on as a sum of multipoles, see
:mod:`motor.field.exterior`.

scikit-fem supplies mesh, element, basis and quadrature.  The tensor G below holds B of every
basis function at every quadrature point, so that residual and tangent of the steel are two
batched matrix products; a test compares them with the same forms written in scikit-fem.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from skfem import Basis, ElementTriP2

from motor.base.arrays import Floats, Ints
from motor.base.constants import NU0
from motor.field.exterior import ORDERS, Exterior
from motor.field.meshing import MotorMesh
from motor.field.operators import QUADRATURE_ORDER, FluxOperator, points
from motor.field.steel_part import SteelPart, SteelState
from motor.materials import BHCurve

__all__ = ["Discretisation", "MagnetState"]


@dataclass(frozen=True)
class MagnetState:
    """A magnet as the field sees it: remanence vector in tesla and recoil permeability."""

    remanence: tuple[float, float]
    recoil_permeability: float

    @property
    def energy_density(self) -> float:
        """Half the largest energy product of the straight recoil line, J/m^3."""
        size = self.remanence[0] ** 2 + self.remanence[1] ** 2
        return size * NU0 / (8 * self.recoil_permeability)


def _sums(slot: Ints, values: Floats, size: int) -> Floats:
    """Return for each slot the sum of its values."""
    return np.asarray(np.bincount(slot, values, minlength=size), np.float64)


class Discretisation:
    """The discrete equations on one mesh: energy, residual and tangent.

    Vectors over the free unknowns ("reduced") have length ``size``; vectors over all nodes,
    axis included, have length ``basis.N``.

    Parameters
    ----------
    mesh : MotorMesh
    steels : mapping of region name to BHCurve
    magnets : mapping of region name to MagnetState
        Every region that is in neither mapping has the permeability of free space.
    orders : int
        Multipoles of the field beyond the outer boundary; with 0 the field strength along the
        boundary is 0.
    """

    def __init__(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        magnets: Mapping[str, MagnetState],
        orders: int = ORDERS,
    ) -> None:
        self.mesh = mesh
        self._dofs: Any = None
        self.nodes: Ints = self.basis.element_dofs.T
        self._count = int(self.basis.N)
        self._orders = orders
        self._number_unknowns()
        self._build_pattern()
        self.exterior = self._exterior()
        self._fill(steels, magnets)
        self.linear  # noqa: B018  (made once, for all copies)

    @functools.cached_property
    def basis(self) -> Basis:
        """scikit-fem's basis of the mesh."""
        return Basis(self.mesh.mesh, ElementTriP2(), intorder=QUADRATURE_ORDER, dofs=self._dofs)

    def moved(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        magnets: Mapping[str, MagnetState],
    ) -> Discretisation:
        """Return the equations for the same triangles with their vertices elsewhere.

        The shares of remanence left stay with the triangles.
        """
        other = copy.copy(self)
        other._dofs = self.basis.dofs
        for made in ("values", "basis", "linear", "points", "_steel_slots"):
            other.__dict__.pop(made, None)
        other.mesh = mesh
        other.exterior = self._exterior_moved(mesh)
        other._fill(steels, magnets)
        return other.with_shares(self.shares)

    def _fill(self, steels: Mapping[str, BHCurve], magnets: Mapping[str, MagnetState]) -> None:
        self._flux = FluxOperator(self.mesh)
        self.weight = self._flux.weight
        self._linear_part(steels, magnets)
        self.steel = SteelPart(self.mesh, steels, self._flux)
        self._steel_nodes = self.nodes[self.steel.triangles]

    @functools.cached_property
    def _steel_slots(self) -> tuple[np.ndarray, Ints]:
        return self._slots_of(self.steel.triangles)

    @functools.cached_property
    def values(self) -> Floats:
        """Basis functions at the quadrature points: array (element, point, node)."""
        parts = [np.asarray(fields[0]) for fields in self.basis.basis]
        return np.stack([np.broadcast_to(p, self.weight.shape) for p in parts], axis=-1)

    def mass(self, density: Floats) -> Floats:
        """Return the lower triangle of  integral of density A v r dr dz; one density a triangle."""
        here = np.flatnonzero(density)
        scaled = (self.weight[here] * density[here, None])[..., None] * self.values[here]
        blocks = np.matmul(self.values[here].transpose(0, 2, 1), scaled)
        return self._scatter(blocks, *self._slots_of(here))

    def _number_unknowns(self) -> None:
        on_axis = np.abs(self.basis.doflocs[0]) < 1e-12
        self.free: Ints = np.flatnonzero(~on_axis)
        self.size = len(self.free)
        self._number = np.full(self.basis.N, -1, np.intp)
        self._number[self.free] = np.arange(self.size)

    def _build_pattern(self) -> None:
        """Find the lower triangle's sparsity once, and where each element entry lands in it."""
        local = self._number[self.nodes]
        row = np.repeat(local, 6, axis=1)
        column = np.tile(local, (1, 6))
        self._kept = (column >= 0) & (row >= column)
        key = column[self._kept] * self.size + row[self._kept]
        around = self._exterior().unknowns if self._orders else key[:0]
        row, column = np.tril_indices(len(around))
        outside = around[column] * self.size + around[row]
        self._keys, slot = np.unique(np.concatenate([key, outside]), return_inverse=True)
        self._slot, self._slot_outside = np.split(slot, [len(key)])
        self.indices = (self._keys % self.size).astype(np.int32)
        starts = np.searchsorted(self._keys, np.arange(self.size + 1) * self.size)
        self.indptr = starts.astype(np.int32)

    def _slots_of(self, triangles: Ints) -> tuple[np.ndarray, Ints]:
        """Return which entries of some triangles' blocks are kept, and where they land."""
        position = np.full(self._kept.shape, -1, np.intp)
        position[self._kept] = self._slot
        kept = self._kept[triangles]
        return kept, position[triangles][kept]

    def _scatter(self, blocks: Floats, kept: np.ndarray, slot: Ints) -> Floats:
        data = blocks.reshape(len(blocks), 36)[kept]
        return _sums(slot, data, len(self._keys))

    def _linear_part(
        self, steels: Mapping[str, BHCurve], magnets: Mapping[str, MagnetState]
    ) -> None:
        n = self.mesh.mesh.nelements
        nu = np.full(n, NU0)
        self.steels, self.magnets = dict(steels), dict(magnets)
        self._pulls = {}
        for name, magnet in magnets.items():
            here = self.mesh.triangles_of(name)
            nu[here] = NU0 / magnet.recoil_permeability
            b_r, b_z = magnet.remanence
            g = self._flux.of(here)
            pull = b_z * g[:, :, 0, :] - b_r * g[:, :, 1, :]
            block = np.einsum("eq,eqi->ei", self.weight[here] * nu[here, None], pull)
            self._pulls[name] = (here, block)
        for name in steels:
            nu[self.mesh.triangles_of(name)] = 0.0
        self._linear_nu = nu
        self.shares: Mapping[str, float | Floats] = {}
        self.load = self.magnet_load({})

    @functools.cached_property
    def linear(self) -> Floats:
        """The lower triangle of the matrix of everything but steel."""
        g = self._flux.of().reshape(len(self.nodes), -1, 6)
        scale = np.repeat(self.weight * self._linear_nu[:, None], 2, axis=1)
        blocks = np.matmul(g.transpose(0, 2, 1), scale[:, :, None] * g)
        linear = self._scatter(blocks, self._kept, self._slot)
        if self._orders:
            matrix = NU0 * self.exterior.matrix
            linear[self._slot_outside] += matrix[np.tril_indices(len(matrix))]
        return linear

    def residual(self, reduced: Floats) -> Floats:
        """Return by how much a potential misses the equations, triangle by triangle (reduced)."""
        local = self.expand(reduced)[self.nodes]
        scale = self.weight * self._linear_nu[:, None]
        force = self._flux.gathered(scale[..., None] * self._flux.applied(local))
        state = self.steel.at(local[self.steel.triangles])
        force[self.steel.triangles] += self.steel.forces(state)
        total = self.gather(self.nodes, force) - self.load
        if self._orders:
            around = self.exterior.unknowns
            total[around] += NU0 * (self.exterior.matrix @ reduced[around])
        return total

    def with_shares(self, shares: Mapping[str, float | Floats]) -> Discretisation:
        """Return the same equations with some shares of the magnets' remanence left.

        Parameters
        ----------
        shares : mapping of region name to float or (n,) array
            As for :meth:`magnet_load`; kept as ``shares``.
        """
        twin = copy.copy(self)
        twin.shares, twin.load = dict(shares), self.magnet_load(shares)
        return twin

    def magnet_load(self, shares: Mapping[str, float | Floats]) -> Floats:
        """Return the magnets' reduced load with other remanences than those given.

        Parameters
        ----------
        shares : mapping of region name to float or (n,) array
            Remanence over that given, for the whole region or for each of its triangles
            (in the order of :meth:`MotorMesh.triangles_of`); 1 where absent.
        """
        total = np.zeros(self.size)
        for name, (here, block) in self._pulls.items():
            share = np.asarray(shares.get(name, 1.0))
            total += self.gather(self.nodes[here], block * share.reshape(-1, 1))
        return total

    def along_magnets(self, reduced: Floats) -> dict[str, Floats]:
        """Return the mean flux density along the remanence in each triangle of each magnet, T."""
        full, found = self.expand(reduced), {}
        for name, (here, block) in self._pulls.items():
            remanence = np.hypot(*self.magnets[name].remanence)
            volume = (self.weight[here] * self._linear_nu[here, None]).sum(axis=1)
            found[name] = (block * full[self.nodes[here]]).sum(axis=1) / (remanence * volume)
        return found

    def _exterior(self) -> Exterior:
        grid = self.mesh.mesh
        outer = grid.boundary_facets()
        outer = outer[grid.p[0, grid.facets[:, outer]].max(axis=0) > 1e-12]
        start, end = grid.p[:, grid.facets[:, outer]].swapaxes(0, 1)
        vertices = self.basis.nodal_dofs[0, grid.facets[:, outer]]
        nodes = self._number[np.vstack([vertices, self.basis.facet_dofs[0, outer]]).T]
        part = self.mesh.partition
        return Exterior(start, end, nodes, part.radius, part.centre, self._orders)

    def _exterior_moved(self, mesh: MotorMesh) -> Exterior:
        """Return the outside of the same edges elsewhere."""
        part = mesh.partition
        outer = self._outer_edges()
        if np.array_equal(mesh.mesh.p[:, outer], self.mesh.mesh.p[:, outer]):
            return self.exterior
        start, end = mesh.mesh.p[:, outer].swapaxes(0, 1)
        return replace(self.exterior, start=start, end=end, radius=part.radius, centre=part.centre)

    def _outer_edges(self) -> Ints:
        """Return the vertices of the edges of the outer boundary: array (2, k)."""
        grid = self.mesh.mesh
        outer = grid.boundary_facets()
        outer = outer[grid.p[0, grid.facets[:, outer]].max(axis=0) > 1e-12]
        return np.asarray(grid.facets[:, outer])

    @functools.cached_property
    def points(self) -> Floats:
        """(r, z) of the quadrature points in metres: array (2, element, point)."""
        return points(self.mesh)

    # reduced and full vectors

    def expand(self, reduced: Floats) -> Floats:
        """Return a reduced vector with the axis' zeros filled in."""
        full = np.zeros(self._count)
        full[self.free] = reduced
        return full

    def gather(self, nodes: Ints, values: Floats) -> Floats:
        """Sum values given per node index into a reduced vector."""
        return _sums(nodes.ravel(), values.ravel(), self._count)[self.free]

    # the discrete operators

    def steel_at(self, reduced: Floats) -> SteelState:
        """Return the state of the steel at a potential."""
        return self.steel.at(self.expand(reduced)[self._steel_nodes])

    def steel_force(self, state: SteelState) -> Floats:
        """Return the steel's part of the residual."""
        return self.gather(self._steel_nodes, self.steel.forces(state))

    def steel_tangent(self, state: SteelState, *, secant: bool = False) -> Floats:
        """Return the steel's part of the tangent's lower triangle.

        ``secant`` puts H/B in place of dH/dB where that is larger, in weak fields: a step with
        this tangent never goes too far there.
        """
        if secant:
            state = replace(state, slope=np.maximum(state.slope, state.nu))
        return self._scatter(self.steel.tangents(state), *self._steel_slots)

    def chord_tangent(self, flux_density: float) -> Floats:
        """Return the steel's matrix for a constant nu, that of the given flux density."""
        return self._scatter(self.steel.chords(flux_density), *self._steel_slots)

    def tangent_shares(self, at: Floats, x: Floats, y: Floats) -> Floats:
        """Return each triangle's share of x . (tangent at a potential) . y.

        All arguments are full vectors; the outer boundary's term is left out.
        """
        b_x, b_y = (self._flux.applied(v[self.nodes]) for v in (x, y))
        product = (b_x * b_y).sum(axis=-1)
        state, here = self.steel_at(at[self.free]), self.steel.triangles
        result = (self.weight * self._reluctivity(state) * product).sum(axis=1)
        b = state.flux_density
        along = (b_x[here] * b).sum(axis=-1) * (b_y[here] * b).sum(axis=-1)
        result[here] += (self.steel.weight * state.stretch * along).sum(axis=1)
        return np.asarray(result)

    def _reluctivity(self, state: SteelState) -> Floats:
        """Return H/B in m/H, in magnets that of their slope: array (element, point)."""
        nu = np.repeat(self._linear_nu[:, None], self.weight.shape[1], axis=1)
        nu[self.steel.triangles] = state.nu
        return nu

    def least_reluctivity(self, state: SteelState) -> Floats:
        """Return each triangle's least of H/B and dH/dB in m/H, at its quadrature points."""
        least = self._linear_nu.copy()
        least[self.steel.triangles] = np.minimum(state.nu, state.slope).min(axis=1)
        return least

    def flux_density(self, full: Floats, here: Ints | slice = slice(None)) -> Floats:
        """Return (B_r, B_z) at the quadrature points: array (element, point, 2) in tesla.

        Of all elements or of some, ``here``.
        """
        g = self._flux.applied(full[self.nodes[here]], here)
        return np.stack([-g[..., 1], g[..., 0]], axis=-1)

    def field_strength(self, reduced: Floats, flux_density: Floats) -> Floats:
        """Return (H_r, H_z) at the quadrature points: array (element, point, 2) in A/m.

        ``flux_density`` is the potential's there, see :meth:`flux_density`.
        """
        h = self._reluctivity(self.steel_at(reduced))[..., None] * flux_density
        for name, magnet in self.magnets.items():
            here = self.mesh.triangles_of(name)
            left = np.broadcast_to(self.shares.get(name, 1.0), len(here))[:, None, None]
            h[here] -= NU0 / magnet.recoil_permeability * np.array(magnet.remanence) * left
        return np.asarray(h)
