"""Small alternating currents about a solved field, with the eddy currents that they induce.

The complex amplitude A of the vector potential at angular frequency w satisfies for every v

    integral of  (dH/dB) B(A) . B(v) r dr dz + open-boundary term
        + i w  integral of  sigma A v r dr dz  =  integral of  J v  r dr dz

with dH/dB of the steel at the solved field, a tensor there.  Small means: so small that steel
follows its B-H curve's slope; minor loops, which are flatter, are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from motor.arrays import Floats, Ints
from motor.errors import SolveError
from motor.field.field import Level
from motor.field.meshing import MotorMesh
from motor.field.newton import Solution, Solver
from motor.field.refinement import longest_edges
from motor.field.weak_form import MagnetState, System
from motor.materials import BHCurve

__all__ = ["Complexes", "Harmonic", "harmonics"]

Complexes = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]

RESOLVED = 0.7
"""Triangles count as resolved once their longest edge is below this many skin depths."""
MARKED = 0.9
"""Share of the losses in unresolved triangles that those to be refined hold together."""


class Harmonic:
    """The equations of small alternating currents on one mesh.

    Parameters
    ----------
    mesh : MotorMesh
        That of the solved field, or one nested in it.
    steels, magnets : mapping by region name
        As for the solved field.
    conductivity : mapping of region name to float
        S/m; 0 where absent.
    about : Level
        The solved field.
    """

    def __init__(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        magnets: Mapping[str, MagnetState],
        conductivity: Mapping[str, float],
        about: Level,
    ) -> None:
        system = System(mesh, steels, magnets)
        r, z = system.basis.doflocs
        steady = about.potential_at(r, z, continued=True)[system.free]
        self.level = Level(system, Solver(system), Solution(steady, (0.0,)))
        self.conductivity = np.zeros(mesh.mesh.nelements)
        for name, value in conductivity.items():
            self.conductivity[mesh.triangles_of(name)] = value
        self._stiffness = system.linear + system.steel_tangent(system.steel_at(steady))
        self._mass = system.mass(self.conductivity)

    @property
    def unknowns(self) -> int:
        """Number of unknowns."""
        return self.level.system.size

    def potentials(self, frequency: float, loads: Floats) -> Complexes:
        """Return the amplitudes of A (reduced) for loads (reduced), arrays (n, k), in Wb/m.

        Parameters
        ----------
        frequency : float
            Hertz, 0 or more.
        loads : (n, k) array

        Raises
        ------
        SolveError
            If the factorisation fails.
        """
        s = self.level.system
        data = self._stiffness + 2j * np.pi * frequency * self._mass
        upper = sparse.csc_matrix((data, s.indices, s.indptr), shape=(s.size, s.size))
        whole = (upper + sparse.triu(upper, 1).T).tocsc()
        try:
            factors = splu(
                whole,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        except RuntimeError as cause:
            raise SolveError(f"the equations at {frequency:g} Hz are singular: {cause}") from cause
        return np.asarray(factors.solve(loads.astype(np.complex128)))

    def losses(self, potentials: Complexes) -> Floats:
        """Return each triangle's part of  integral of sigma |A|^2 r dr dz, all columns summed.

        The mean loss in watt is (2 pi) w^2 / 2 of that, w the angular frequency; potentials
        of 1 A give a resistance of twice the loss, (2 pi) w^2 of it.
        """
        s = self.level.system
        full = np.zeros((s.basis.N, potentials.shape[1]), np.complex128)
        full[s.free] = potentials
        conducting = np.flatnonzero(self.conductivity)
        values = np.matmul(s.values[conducting], full[s.nodes[conducting]])
        density = (np.abs(values) ** 2).sum(axis=2) * self.conductivity[conducting, None]
        result = np.zeros(len(self.conductivity))
        result[conducting] = (s.weight[conducting] * density).sum(axis=1)
        return result

    def skin_depths(self, frequency: float) -> Floats:
        """Return each triangle's least skin depth sqrt(2 nu / (w sigma)) in metres."""
        nu = self.level.system.least_reluctivity(self.level.solution.reduced)
        with np.errstate(divide="ignore"):
            return np.asarray(np.sqrt(nu / (np.pi * frequency * self.conductivity)))

    def unresolved(self, frequency: float, loads: Floats) -> Ints:
        """Return the triangles to be refined so that eddy currents at a frequency are resolved."""
        losses = self.losses(self.potentials(frequency, loads))
        edges = longest_edges(self.level.system.mesh.mesh)
        losses[edges < RESOLVED * self.skin_depths(frequency)] = 0.0
        order = np.argsort(-losses)
        total = np.cumsum(losses[order])
        if total[-1] == 0:
            return order[:0]
        return order[: int(np.searchsorted(total, MARKED * total[-1])) + 1]


def harmonics(
    mesh: MotorMesh,
    about: Level,
    steels: Mapping[str, BHCurve],
    magnets: Mapping[str, MagnetState],
    conductivity: Mapping[str, float],
    frequency: float,
    loads_on: Callable[[Level], Floats],
    rounds: int,
) -> Iterator[Harmonic]:
    """Yield the equations on a mesh, then on finer ones.

    Parameters
    ----------
    mesh : MotorMesh
        That of the solved field, or one nested in it.
    about : Level
        The solved field.
    steels, magnets, conductivity : mapping by region name
    frequency : float
        Hertz; the eddy currents at it decide where the mesh is refined.
    loads_on : callable
        Gives the loads on a level, (n, k) array.
    rounds : int
        How many times to refine; fewer where nothing is left to be refined.
    """
    for left in range(rounds, -1, -1):
        harmonic = Harmonic(mesh, steels, magnets, conductivity, about)
        yield harmonic
        if left:
            marked = harmonic.unresolved(frequency, loads_on(harmonic.level))
            if not len(marked):
                return
            mesh = mesh.refined(marked)
