"""Heat conduction in axial symmetry: matrices, steady solution, and a reduced basis.

    rho c dT/dt = div(k grad T) + q,        -k dT/dn = h (T - T_across)

Second-order triangles on :class:`~motor.field.heat_mesh.HeatMesh`, temperatures over ambient.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from skfem import BilinearForm

from motor.base.arrays import Floats
from motor.field.factor import Factor
from motor.field.heat_links import Link
from motor.field.heat_mesh import FORMER, WINDING, HeatMesh

__all__ = ["HeatSystem", "ReducedHeat", "Solid"]


def mesh_coil(mesh: HeatMesh) -> list[str]:
    """Return the bodies that move: windings, and former if there is one."""
    return [name for name in (*mesh.windings, FORMER) if name in mesh.names]


@dataclass(frozen=True)
class Solid:
    """A body's conductivities across and along the axis, W/(m K), and its capacity, J/(m^3 K)."""

    across: float
    along: float
    capacity: float


@BilinearForm
def _conduction(u, v, w):  # type: ignore[no-untyped-def]
    r = 2 * np.pi * w.x[0]
    return r * (w.across * u.grad[0] * v.grad[0] + w.along * u.grad[1] * v.grad[1])


@BilinearForm
def _mass(u, v, w):  # type: ignore[no-untyped-def]
    return 2 * np.pi * w.x[0] * w.density * u * v


class HeatSystem:
    """The equations of heat on one mesh.

    Parameters
    ----------
    mesh : HeatMesh
    solids : mapping of body to Solid
    links : sequence of Link
    shares : sequence of float
        Of the heat, and of what the coil's resistance shows, that each of the mesh's windings has.
    """

    def __init__(
        self,
        mesh: HeatMesh,
        solids: Mapping[str, Solid],
        links: Sequence[Link],
        shares: Sequence[float] = (1.0,),
    ) -> None:
        self.mesh, self.links = mesh, {link.kind: link for link in links}
        bodies = [solids[name] for name in mesh.names]

        def spread(values: Sequence[float]) -> Floats:
            each = np.array(values)[mesh.label][:, None]
            return np.broadcast_to(each, (len(mesh.label), mesh.basis.X.shape[1]))

        basis = mesh.basis
        self.conduction = _conduction.assemble(
            basis,
            across=spread([b.across for b in bodies]),
            along=spread([b.along for b in bodies]),
        ).tocsc()
        self.capacity = _mass.assemble(basis, density=spread([b.capacity for b in bodies])).tocsc()
        self._capacities = {n: b.capacity for n, b in zip(mesh.names, bodies, strict=True)}
        self._volumes = {
            name: _mass.assemble(
                basis, density=spread([1.0 if n == name else 0.0 for n in mesh.names])
            ).tocsc()
            for name in mesh.names
        }
        ones = np.ones(basis.N)
        self.volume = {name: float(ones @ v @ ones) for name, v in self._volumes.items()}
        self.mean = {n: np.asarray(v @ ones) / self.volume[n] for n, v in self._volumes.items()}
        self.sources = [self.mean[name] for name in mesh.windings]
        self.source_slopes = [(self._volumes[n] / self.volume[n]).tocsc() for n in mesh.windings]
        parts = list(zip(shares, self.sources, self.source_slopes, strict=True))
        self.source: Floats = np.sum([share * source for share, source, _ in parts], axis=0)
        self.source_slope = sum(share * slope for share, _, slope in parts).tocsc()
        self.mean[WINDING] = self.source

    @functools.cached_property
    def _pattern(self) -> tuple[Floats, Factor]:
        """Keys of the lower triangle's entries, and the factors of that pattern."""
        whole = abs(self.conduction) + abs(self.capacity)
        for link in self.links.values():
            whole = whole + abs(link.matrix)
        lower = sparse.tril(whole.tocsc(), format="csc")
        lower.sort_indices()
        columns = np.repeat(np.arange(lower.shape[1]), np.diff(lower.indptr))
        return columns * lower.shape[0] + lower.indices, Factor(lower.indptr, lower.indices)

    def _entries(self, matrix: sparse.csc_matrix) -> Floats:
        keys, _ = self._pattern
        coo = sparse.tril(matrix).tocoo()
        data = np.zeros(len(keys))
        places = np.searchsorted(keys, coo.col.astype(np.int64) * matrix.shape[0] + coo.row)
        np.add.at(data, places, coo.data)
        return data

    @functools.cached_property
    def _parts(self) -> dict[str, Floats]:
        parts = {kind: self._entries(link.matrix) for kind, link in self.links.items()}
        fixed = {"": self._entries(self.conduction), "capacity": self._entries(self.capacity)}
        return parts | fixed

    def factor(self, coefficients: Mapping[str, float], rate: float = 0.0) -> Factor:
        """Return the factors of stiffness plus ``rate`` (1/s) times capacity; until the next."""
        parts = self._parts
        data = parts[""] + rate * parts["capacity"]
        for kind, value in coefficients.items():
            if value:
                data = data + value * parts[kind]
        _, factor = self._pattern
        factor.update(data)
        return factor

    def steady(self, coefficients: Mapping[str, float], load: Floats) -> Floats:
        """Return temperatures over ambient, K, of a load in W per node."""
        return self.factor(coefficients).solve(load)

    def matrix(self, coefficients: Mapping[str, float]) -> sparse.csc_matrix:
        """Return the whole stiffness, W/K."""
        whole = self.conduction
        for kind, value in coefficients.items():
            whole = whole + value * self.links[kind].matrix
        return whole

    def heat_to_air(self, kind: str, coefficient: float, rise: Floats) -> float:
        """Return the heat in W that leaves by one of the ways to the air."""
        return coefficient * float(self.links[kind].to_air @ rise)

    def snapshots(self, coefficients: Mapping[str, float], rates: Sequence[float]) -> Floats:
        """Return fields that span what these equations can show: array (n, k).

        Steady answers to heat in the coil, evenly and as warmer wire takes it, and to heat from
        each way to the air; the coil's heat growing as exp(s t) for each rate s in 1/s.
        """
        factor = self.factor(coefficients)
        loads = [self.source]
        first = factor.solve(self.source)
        loads += [self.source_slope @ first]
        loads += [
            link.to_air if link.to_air.any() else link.matrix @ first
            for link in self.links.values()
            if link.total
        ]
        found = [factor.solve(np.column_stack(loads))]
        found += [self.factor(coefficients, s).solve(self.source)[:, None] for s in rates]
        return np.hstack(found)

    def reduced(self, fields: Floats, watched: Mapping[str, sparse.csr_matrix]) -> ReducedHeat:
        """Return the equations in the span of fields (n, k).

        ``watched`` are matrices that read temperatures at points, for largest values.
        """
        scale = np.sqrt(np.einsum("ik,ik->k", fields, self.capacity @ fields))
        unit = fields / scale
        gram = unit.T @ (self.capacity @ unit)
        value, vector = np.linalg.eigh(gram)
        kept = value > 1e-11 * value[-1]
        basis = unit @ (vector[:, kept] / np.sqrt(value[kept]))

        def small(matrix: sparse.csc_matrix) -> Floats:
            return np.asarray(basis.T @ (matrix.T @ basis))  # symmetric; rows go faster

        return ReducedHeat(
            basis=basis,
            conduction=small(self.conduction),
            capacity=small(self.capacity),
            links={k: small(link.matrix) for k, link in self.links.items()},
            to_air={k: basis.T @ link.to_air for k, link in self.links.items()},
            near={k: basis.T @ link.near for k, link in self.links.items()},
            far={k: basis.T @ link.far for k, link in self.links.items()},
            totals={k: link.total for k, link in self.links.items()},
            mean={k: basis.T @ v for k, v in self.mean.items()},
            source=basis.T @ self.source,
            sources=np.stack([basis.T @ source for source in self.sources]),
            source_slopes=np.stack([small(slope) for slope in self.source_slopes]),
            coil_capacity=small(
                sum(self._capacities[n] * self._volumes[n] for n in mesh_coil(self.mesh))
            ),
            capacities={n: c * self.volume[n] for n, c in self._capacities.items()},
            watched={k: np.asarray(m @ basis) for k, m in watched.items()},
        )


@dataclass(frozen=True)
class ReducedHeat:
    """The equations in a few modes, orthonormal in the capacity: array (k, k) or (k,) each.

    Parameters
    ----------
    basis : (n, k) array
        Modes on the mesh.
    conduction, capacity : (k, k) array
    links : mapping of kind to (k, k) array
        For a coefficient of 1.
    to_air, near, far : mapping of kind to (k,) array
    totals : mapping of kind to float
    mean : mapping of body to (k,) array
    source : (k,) array
        Of 1 W in the windings by their shares, spread evenly over each.
    sources : (p, k) array
        Of 1 W spread evenly over each winding; the mean temperature of each, too.
    source_slopes : (p, k, k) array
        Of heat that goes with the local temperature.
    coil_capacity : (k, k) array
        The part of ``capacity`` that winding and former have.
    capacities : mapping of body to float
        J/K.
    watched : mapping of name to (m, k) array
        Temperatures at points of interest.
    """

    basis: Floats
    conduction: Floats
    capacity: Floats
    links: Mapping[str, Floats]
    to_air: Mapping[str, Floats]
    near: Mapping[str, Floats]
    far: Mapping[str, Floats]
    totals: Mapping[str, float]
    mean: Mapping[str, Floats]
    source: Floats
    sources: Floats
    source_slopes: Floats
    coil_capacity: Floats
    capacities: Mapping[str, float]
    watched: Mapping[str, Floats]

    @functools.cached_property
    def link_matrices(self) -> Floats:
        """The links' matrices in their order: (links, k, k) array."""
        return np.stack(list(self.links.values()))

    @functools.cached_property
    def near_rows(self) -> Floats:
        """The links' ``near`` in their order: (links, k) array."""
        return np.stack(list(self.near.values()))

    @functools.cached_property
    def far_rows(self) -> Floats:
        """The links' ``far`` in their order: (links, k) array."""
        return np.stack(list(self.far.values()))

    def hottest(self, name: str, state: Floats) -> float:
        """Return the largest temperature over ambient among watched points, K."""
        points = self.watched[name]
        return float((points @ state).max()) if len(points) else float("-inf")
