"""Heat conduction in axial symmetry: matrices, steady solution, and a reduced basis.

    rho c dT/dt = div(k grad T) + q,        -k dT/dn = h (T - T_across)

Second-order triangles on :class:`~motor.field.heat_mesh.HeatMesh`, temperatures over ambient.  A
body's k and c follow its mean temperature: parts are nearly even inside, and differ among them; for
a wall whose k is linear in T that is exact (Kirchhoff's transform, any handbook).
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from skfem import BilinearForm, LinearForm

from motor.base.arrays import Floats, Ints
from motor.field.factor import Factor
from motor.field.heat_links import Link
from motor.field.heat_mesh import COIL, WINDING, HeatMesh

__all__ = ["HeatSystem", "ReducedHeat", "Solid"]


@dataclass(frozen=True)
class Solid:
    """What a body is made of, at 20 degC.

    Parameters
    ----------
    across, along : float
        Conductivities across and along the axis, W/(m K).
    capacity : float
        J/(m^3 K).
    conductivity_slope, capacity_slope : float
        By what share they change per kelvin, 1/K.
    """

    across: float
    along: float
    capacity: float
    conductivity_slope: float = 0.0
    capacity_slope: float = 0.0


@BilinearForm
def _conduction(u, v, w):  # type: ignore[no-untyped-def]
    r = 2 * np.pi * w.x[0]
    return r * (w.across * u.grad[0] * v.grad[0] + w.along * u.grad[1] * v.grad[1])


@BilinearForm
def _mass(u, v, w):  # type: ignore[no-untyped-def]
    return 2 * np.pi * w.x[0] * w.density * u * v


@LinearForm
def _heating(v, w):  # type: ignore[no-untyped-def]
    return 2 * np.pi * w.x[0] * w.density * v


class HeatSystem:
    """The equations of heat on one mesh.

    Parameters
    ----------
    mesh : HeatMesh
    solids : mapping of body to Solid
        Winding and former conduct the same at all temperatures: enamel rules.
    links : sequence of Link
    shares : sequence of float
        Of the heat, and of what the coil's resistance shows, that each of the mesh's windings has.
    losses : mapping of body to (n,) array
        For each triangle of the mesh, share of the body's own heat that arises in it; bodies
        without heat of their own are absent.
    """

    def __init__(
        self,
        mesh: HeatMesh,
        solids: Mapping[str, Solid],
        links: Sequence[Link],
        shares: Sequence[float] = (1.0,),
        losses: Mapping[str, Floats] | None = None,
    ) -> None:
        self.mesh, self.links = mesh, {link.kind: link for link in links}
        self.solids = solids
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
        ones = np.ones(basis.N)
        everywhere = _heating.assemble(basis, density=spread([1.0] * len(bodies)))
        inside = {
            name: np.where(self.body == self.bodies.index(name), everywhere, 0.0)
            if name in self.bodies[:-1]
            else _heating.assemble(basis, density=spread([float(n == name) for n in mesh.names]))
            for name in mesh.names
        }
        self.volume = {name: float(v @ ones) for name, v in inside.items()}
        self.mean = {name: np.asarray(v) / self.volume[name] for name, v in inside.items()}
        self.sources = [self.mean[name] for name in mesh.windings]
        self.source_slopes = [
            _mass.assemble(basis, density=spread([float(n == name) for n in mesh.names])).tocsc()
            / self.volume[name]
            for name in mesh.windings
        ]
        parts = list(zip(shares, self.sources, self.source_slopes, strict=True))
        self.source: Floats = np.sum([share * source for share, source, _ in parts], axis=0)
        self.source_slope = sum(share * slope for share, _, slope in parts).tocsc()
        self.mean[WINDING] = self.source
        self.losses = {name: self._source(share) for name, share in (losses or {}).items()}

    def _source(self, share: Floats) -> Floats:
        """Return the load in W per node of 1 W, of which each triangle has a share."""
        basis = self.mesh.basis
        volume = 2 * np.pi * (basis.dx * np.asarray(basis.global_coordinates())[0]).sum(axis=1)
        density = np.broadcast_to((share / volume)[:, None], basis.dx.shape)
        return np.asarray(_heating.assemble(basis, density=density))

    @functools.cached_property
    def bodies(self) -> tuple[str, ...]:
        """The parts, and WINDING for all that moves, which shares unknowns."""
        return (*(n for n in self.mesh.names if not n.startswith(COIL)), WINDING)

    @functools.cached_property
    def body(self) -> Ints:
        """Which of the bodies each unknown belongs to."""
        mesh = self.mesh
        own = [self.bodies.index(WINDING if n.startswith(COIL) else n) for n in mesh.names]
        found = np.empty(mesh.basis.N, np.intp)
        found[mesh.basis.element_dofs] = np.array(own)[mesh.label]
        return found

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

    def factor(
        self, coefficients: Mapping[str, float], rate: float = 0.0, solid: Floats | None = None
    ) -> Factor:
        """Return the factors of stiffness plus ``rate`` (1/s) times capacity; until the next.

        ``solid`` are factors on the conductivity of each body.
        """
        parts = self._parts
        data = parts[""]
        if solid is not None:
            data = data * solid[self.body[self._pattern[0] % self.mesh.basis.N]]
        data = data + rate * parts["capacity"]
        for kind, value in coefficients.items():
            if value:
                data = data + value * parts[kind]
        _, factor = self._pattern
        factor.update(data)
        return factor

    def steady(
        self, coefficients: Mapping[str, float], load: Floats, solid: Floats | None = None
    ) -> Floats:
        """Return temperatures over ambient, K, of a load in W per node; see :meth:`factor`."""
        return self.factor(coefficients, solid=solid).solve(load)

    def matrix(self, coefficients: Mapping[str, float]) -> sparse.csc_matrix:
        """Return the whole stiffness, W/K."""
        whole = self.conduction
        for kind, value in coefficients.items():
            whole = whole + value * self.links[kind].matrix
        return whole

    def snapshots(self, coefficients: Mapping[str, float], rates: Sequence[float]) -> Floats:
        """Return fields that span what these equations can show: array (n, k).

        Steady answers to heat in the coil, evenly and as warmer wire takes it, in each body that
        has heat of its own, and to heat from each way to the air; the coil's heat growing as
        exp(s t) for each rate s in 1/s.
        """
        factor = self.factor(coefficients)
        loads = [self.source, *self.losses.values()]
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

        rows = [np.flatnonzero(self.body == k) for k in range(len(self.bodies))]
        flow, stored = self.conduction.T @ basis, self.capacity.T @ basis
        names, whole = self.mesh.names, {}
        for name in names:
            whole[name] = self.solids[name].capacity * self.volume[name]
        coil = [n for n in names if n.startswith(COIL)]
        own = [self.solids[n] for n in self.bodies[:-1]]
        moving = sum(whole[n] * self.solids[n].capacity_slope for n in coil)
        slopes = [b.capacity_slope for b in own] + [moving / sum(whole[n] for n in coil)]
        return ReducedHeat(
            basis=basis,
            bodies=self.bodies,
            conductions=np.stack([basis[r].T @ flow[r] for r in rows]),
            capacities=np.stack([basis[r].T @ stored[r] for r in rows]),
            conduction_slope=np.array([b.conductivity_slope for b in own] + [0.0]),
            capacity_slope=np.array(slopes),
            links={k: small(link.matrix) for k, link in self.links.items()},
            to_air={k: basis.T @ link.to_air for k, link in self.links.items()},
            near={k: basis.T @ link.near for k, link in self.links.items()},
            far={k: basis.T @ link.far for k, link in self.links.items()},
            totals={k: link.total for k, link in self.links.items()},
            mean={k: basis.T @ v for k, v in self.mean.items()},
            source=basis.T @ self.source,
            sources=np.stack([basis.T @ source for source in self.sources]),
            source_slopes=np.stack([small(slope) for slope in self.source_slopes]),
            losses={k: basis.T @ v for k, v in self.losses.items()},
            whole=whole,
            watched={k: np.asarray(m @ basis) for k, m in watched.items()},
        )


@dataclass(frozen=True)
class ReducedHeat:
    """The equations in a few modes, orthonormal in the capacity at 20 degC.

    Arrays are (k, k) or (k,) each.  Bodies are the parts and the coil, winding and former in one.

    Parameters
    ----------
    basis : (n, k) array
        Modes on the mesh.
    bodies : tuple of str
        See :attr:`HeatSystem.bodies`.
    conductions, capacities : (bodies, k, k) array
        Of each body at 20 degC.
    conduction_slope, capacity_slope : (bodies,) array
        By what share each changes per kelvin, 1/K.
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
    losses : mapping of part to (k,) array
        Of 1 W of a part's own heat.
    whole : mapping of name to float
        Capacity at 20 degC, J/K, of each part, winding, and former.
    watched : mapping of name to (m, k) array
        Temperatures at points of interest.
    """

    basis: Floats
    bodies: tuple[str, ...]
    conductions: Floats
    capacities: Floats
    conduction_slope: Floats
    capacity_slope: Floats
    links: Mapping[str, Floats]
    to_air: Mapping[str, Floats]
    near: Mapping[str, Floats]
    far: Mapping[str, Floats]
    totals: Mapping[str, float]
    mean: Mapping[str, Floats]
    source: Floats
    sources: Floats
    source_slopes: Floats
    losses: Mapping[str, Floats]
    whole: Mapping[str, float]
    watched: Mapping[str, Floats]

    @functools.cached_property
    def means(self) -> Floats:
        """The bodies' ``mean`` in their order: (bodies, k) array."""
        return np.stack([self.mean[name] for name in self.bodies])

    @functools.cached_property
    def load_rows(self) -> Floats:
        """All ``losses`` in their order: (losses, k) array."""
        return np.array([*self.losses.values()]).reshape(-1, len(self.source))

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
