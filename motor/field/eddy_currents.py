"""Small alternating currents about a solved field, with the eddy currents that they induce.

The complex amplitude A of the vector potential at angular frequency w satisfies for every v

    integral of  (dH/dB) B(A) . B(v) r dr dz + outer boundary term
        + i w  integral of  sigma A v r dr dz  =  integral of  J v  r dr dz

with dH/dB of the steel at the solved field, a tensor there: the reversible one, of minor loops
(:mod:`motor.materials.reversible`), or the slope of the magnetising curve.  Small means: so small
that minor loops do not open; how the permeability rises with the amplitude:
:mod:`motor.field.minor_loops`.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from motor.base.arrays import Complexes, Floats, Ints
from motor.base.errors import SolveError
from motor.field.factor import Factor
from motor.field.field import FieldOnMesh
from motor.field.meshing import MotorMesh
from motor.field.newton import Solution, Solver
from motor.field.steel_part import SteelState
from motor.field.weak_form import Discretisation, MagnetState
from motor.materials import BHCurve

__all__ = ["PERMEABILITIES", "Harmonic", "resolved"]

PERMEABILITIES = ("reversible", "slope")
"""How steel answers small alternating fields: on minor loops, or along its magnetising curve."""
SKIN = 0.7
"""Thickness of the layer of triangles at a conductor's surface, in skin depths."""


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
    about : FieldOnMesh
        The solved field.
    permeability : str
        One of PERMEABILITIES.
    """

    def __init__(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        magnets: Mapping[str, MagnetState],
        conductivity: Mapping[str, float],
        about: FieldOnMesh,
        permeability: str = "reversible",
    ) -> None:
        self.share: float | Floats = 1.0 if permeability == "reversible" else 0.0
        self._fill(Discretisation(mesh, steels, magnets), conductivity, about)

    def moved(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        magnets: Mapping[str, MagnetState],
        conductivity: Mapping[str, float],
        about: FieldOnMesh,
    ) -> Harmonic:
        """Return the equations of the same triangles, their vertices or materials others."""
        other = copy.copy(self)
        other.__dict__.pop("_factor", None)
        other._fill(self.level.system.moved(mesh, steels, magnets), conductivity, about)
        return other

    def _fill(
        self, system: Discretisation, conductivity: Mapping[str, float], about: FieldOnMesh
    ) -> None:
        r, z = system.basis.doflocs
        steady = about.potential_at(r, z)[system.free]
        self.level = FieldOnMesh(system, Solver(system), Solution(steady, (0.0,)))
        self.conductivity = _spread(system.mesh, conductivity)
        self._steel = system.steel_at(steady)
        self._stiffness = system.linear + self._tangent({})
        self._mass = system.mass(self.conductivity)

    @property
    def reversible(self) -> bool:
        """Whether steel runs on minor loops, be it in part."""
        return bool(np.any(self.share))

    @property
    def bias(self) -> SteelState:
        """The steel's state under the steady field."""
        return self._steel

    def with_share(self, share: float | Floats) -> Harmonic:
        """Return the equations with a share of what minor loops' reluctivity exceeds the curve's.

        From 1, fields too small to open the loops, to 0, fields along the magnetising curve; of
        all steel, or at each of its quadrature points: array (element, point).
        """
        twin = copy.copy(self)
        twin.__dict__.pop("_factor", None)
        twin.share = share
        twin._stiffness = self.level.system.linear + twin._tangent({})
        return twin

    def at(self, system: Discretisation) -> Harmonic:
        """Return the same linear equations beside another law of the steel on the same mesh."""
        twin = copy.copy(self)
        twin.level = replace(self.level, system=system, solver=Solver(system))
        return twin

    def _tangent(self, scales: Mapping[BHCurve, float]) -> Floats:
        system, state = self.level.system, self._steel
        if self.reversible:
            state = system.steel.reversible(state, scales, self.share)
        return system.steel_tangent(state)

    def stiffness_spread(self, curve: BHCurve) -> sparse.csc_matrix:
        """Return half the change of the stiffness over the spread of a steel's permeability."""
        law = curve.law
        spread = 1.0 if law is None else law.spread
        low, high = (self._tangent({curve: scale}) for scale in (1 / spread, spread))
        return self.whole((low - high) / 2)

    def mass_of(self, triangles: Ints) -> sparse.csc_matrix:
        """Return the part of the conductivity's matrix that comes from some triangles."""
        here = np.zeros_like(self.conductivity)
        here[triangles] = self.conductivity[triangles]
        return self.whole(self.level.system.mass(here))

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
        return self.answering(frequency)(loads)

    def answering(self, frequency: float) -> Callable[[Complexes | Floats], Complexes]:
        """Return what makes potentials of loads at a frequency: :meth:`potentials`, factors kept.

        Raises
        ------
        SolveError
        """
        whole = self.whole(self._stiffness + 2j * np.pi * frequency * self._mass)
        try:
            factors = splu(
                whole,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        except RuntimeError as cause:
            raise SolveError(f"the equations at {frequency:g} Hz are singular: {cause}") from cause
        return lambda loads: np.asarray(factors.solve(loads.astype(np.complex128)))

    @functools.cached_property
    def _factor(self) -> Factor:
        return Factor(self.level.system.indptr, self.level.system.indices)

    def relaxed(self, rates: Sequence[float], loads: Floats) -> Floats:
        """Return the potentials of loads that grow as exp(s t), side by side: array (n, k m).

        Parameters
        ----------
        rates : sequence of float
            m values of s in 1/s, 0 or more.
        loads : (n, k) array
        """
        found = []
        for rate in rates:
            self._factor.update(self._stiffness + rate * self._mass)
            found.append(self._factor.solve(loads))
        return np.concatenate(found, axis=1)

    @property
    def stiffness(self) -> sparse.csc_matrix:
        """The whole matrix of the small fields' stiffness."""
        return self.whole(self._stiffness)

    @property
    def mass(self) -> sparse.csc_matrix:
        """The whole matrix of the conductivity."""
        return self.whole(self._mass)

    def differences(self, other: Harmonic) -> tuple[sparse.csc_matrix, sparse.csc_matrix]:
        """Return by how much another's stiffness and mass, of the same triangles, are larger."""
        return (
            self.whole(other._stiffness - self._stiffness),
            self.whole(other._mass - self._mass),
        )

    @property
    def mass_data(self) -> Floats:
        """The lower triangle's entries of the conductivity's matrix, in the system's pattern."""
        return self._mass

    def whole(self, data: np.ndarray) -> sparse.csc_matrix:
        """Return the symmetric matrix of which one triangle's entries are given."""
        s = self.level.system
        half = sparse.csc_matrix((data, s.indices, s.indptr), shape=(s.size, s.size))
        return (half + half.T - sparse.diags(half.diagonal())).tocsc()

    def losses(self, potentials: Complexes | Floats) -> Floats:
        """Return each triangle's part of  integral of sigma |A|^2 r dr dz, all columns summed.

        The mean loss in watt is (2 pi) w^2 / 2 of that, w the angular frequency; potentials
        of 1 A give a resistance of twice the loss, (2 pi) w^2 of it.
        """
        s = self.level.system
        full = np.zeros((s.basis.N, potentials.shape[1]), potentials.dtype)
        full[s.free] = potentials
        conducting = np.flatnonzero(self.conductivity)
        values = np.matmul(s.values[conducting], full[s.nodes[conducting]])
        density = (np.abs(values) ** 2).sum(axis=2) * self.conductivity[conducting, None]
        result = np.zeros(len(self.conductivity))
        result[conducting] = (s.weight[conducting] * density).sum(axis=1)
        return result


def _spread(mesh: MotorMesh, conductivity: Mapping[str, float]) -> Floats:
    """Return each triangle's conductivity in S/m."""
    found = np.zeros(mesh.mesh.nelements)
    for name, value in conductivity.items():
        found[mesh.triangles_of(name)] = value
    return found


def resolved(
    about: FieldOnMesh,
    conductivity: Mapping[str, float],
    frequency: float,
    skin: float = SKIN,
    permeability: str = "reversible",
) -> Harmonic:
    """Return the equations on a mesh with layers at surfaces where eddy currents are to flow.

    Parameters
    ----------
    about : FieldOnMesh
        The solved field.
    conductivity : mapping by region name
        S/m; 0 where absent.
    frequency : float
        Hertz; the highest that the layers are thin enough for.
    skin : float
        Thickness of the layer at a surface, over the least skin depth sqrt(2 nu / (w sigma)) there.
    permeability : str
        One of PERMEABILITIES.
    """
    system, mesh = about.system, about.system.mesh
    steels, magnets = system.steels, system.magnets
    state = system.steel_at(about.solution.reduced)
    if permeability == "reversible":
        state = system.steel.reversible(state, {})
    with np.errstate(divide="ignore"):
        inside = np.pi * frequency * _spread(mesh, conductivity)
        depth = np.sqrt(system.least_reluctivity(state) / inside)
    kinds = [(steels.get(n), magnets.get(n), conductivity.get(n, 0.0)) for n in mesh.names]
    bodies = np.array([kinds.index(kind) for kind in kinds])[mesh.label]
    finer = mesh.lined(bodies, skin * depth)
    return Harmonic(finer, steels, magnets, conductivity, about, permeability)
