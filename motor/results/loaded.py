"""The coil with its own current in the field: force, Bl and the reluctance force."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, SolveError
from motor.base.steps import step
from motor.design.coil import Coil
from motor.field.field import BOUNDARY_ERROR, Estimate, Field, FieldOnMesh, Goal
from motor.field.meshing import MotorMesh
from motor.field.newton import Solution, Solver
from motor.field.section_load import section_load
from motor.field.solve import MOST_UNKNOWNS, doerfler_marking
from motor.field.weak_form import Discretisation
from motor.materials import conductor_named
from motor.results.at_coil import fine_at_coil
from motor.results.profile import bl_goal

__all__ = [
    "EVEN",
    "ODD",
    "ForcePart",
    "LoadedCoil",
    "carried",
    "check_current",
    "coil_load",
    "current_notes",
    "force_goal",
    "force_part",
    "heating_rate",
    "loaded_coil",
    "loaded_mesh",
    "winding_sense",
]

AT_COIL = 0.6
"""Fineness where the winding stands, as in :mod:`motor.results.at_coil`; a finer mesh than this
leaves the forces' error as it is, that of the magnets' field."""
HEAT_CAPACITY = 3e6
"""Of a winding's metal, J/(m^3 K): copper 3.4e6, aluminium 2.4e6, from memory."""
MELTS, LASTS = 4e4, 100.0
"""Heating in K/s that melts a winding within half a period of 20 Hz (1000 K), and from which on a
current lasts for moments only."""
ODD, EVEN = (0.3, 0.08, 2.0), (0.7, 0.13, 0.0)
"""Factors of the uncertainty of the parts of the force odd and even in the current, whose three
parts add as squares: its change between the meshes, the scatter of the triangles' shares in that,
and what magnets' losses for good may be wrong by.  Set on 184 motors to hold for 96 %."""


@dataclass(frozen=True)
class LoadedCoil:
    """Force on the coil at one position and current, its own field included.

    Parameters
    ----------
    position : float
        Displacement from rest, metres.
    current : float
        Ampere.
    force : Estimate
        Axial force at +current in newton, positive outwards.
    force_reversed : Estimate
        The same at -current.
    odd_force, reluctance_force : Estimate
        Parts of the force odd and even in the current, in newton.
    heating : float
        How fast the current warms the winding while nothing cools it, K/s.
    """

    position: float
    current: float
    force: Estimate
    force_reversed: Estimate
    odd_force: Estimate
    reluctance_force: Estimate
    heating: float

    @property
    def force_factor(self) -> Estimate:
        """Part of the force odd in the current, per ampere: Bl in T m under this current."""
        odd = self.odd_force
        return Estimate(odd.value / self.current, odd.uncertainty / abs(self.current))

    @property
    def notes(self) -> list[str]:
        """Cautions about the current."""
        return current_notes(self.current, self.heating)

    def summary(self) -> dict[str, float]:
        """Return the figures under names that carry their unit."""
        return {
            "position_mm": self.position * 1e3,
            "current_A": self.current,
            "force_N": self.force.value,
            "force_uncertainty_N": self.force.uncertainty,
            "bl_Tm": self.force_factor.value,
            "bl_uncertainty_Tm": self.force_factor.uncertainty,
            "reluctance_force_N": self.reluctance_force.value,
            "reluctance_force_uncertainty_N": self.reluctance_force.uncertainty,
            "winding_heating_K_per_s": self.heating,
        }


def current_notes(current: float, heating: float) -> list[str]:
    """Return cautions about a current in ampere that warms its winding so fast (K/s)."""
    if heating <= LASTS:
        return []
    return [
        f"{current:g} A warms the winding by {heating:.3g} K each second while "
        "nothing cools it: it can flow for moments only"
    ]


def heating_rate(coil: Coil, current: float) -> float:
    """Return how fast a current in ampere warms the winding at 20 degC, uncooled, K/s."""
    metal = sum(c.mass / conductor_named(c.wire.material).density for c in coil.each)
    return current**2 * coil.resistance() / (metal * HEAT_CAPACITY)


def check_current(coil: Coil, current: float) -> None:
    """Refuse 0 A and what would melt the winding at once.

    Raises
    ------
    InvalidInput
    """
    if not (math.isfinite(current) and current != 0):
        raise InvalidInput("current", "be other than 0 A", f"{current} A")
    if (rate := heating_rate(coil, current)) > MELTS:
        raise InvalidInput(
            "current",
            f"stay below {abs(current) * math.sqrt(MELTS / rate):.3g} A, which would melt the "
            "winding within half a period of 20 Hz",
            f"{current:g} A",
        )


def coil_load(level: FieldOnMesh, coil: Coil, middle: float, ampere_turns: float) -> Floats:
    """Return the reduced load of a uniform current in the section of each winding.

    The winding need not be part of the mesh.

    Parameters
    ----------
    level : FieldOnMesh
    coil : Coil
    middle : float
        Height of the main winding's middle, metres.
    ampere_turns : float
        Of all, signed; positive along the azimuth in the main winding.
    """
    loads = [
        _load(level, one, middle + place, share * ampere_turns)
        for one, place, share in _windings(coil)
    ]
    return np.asarray(np.sum(loads, axis=0))


def _windings(coil: Coil) -> list[tuple[Coil, float, float]]:
    """Return each winding, its place above the main one, and its share of the ampere turns."""
    return [
        (one, one.rest_position - coil.rest_position, turns / coil.turns_in_series)
        for one, turns in zip(coil.each, coil.ampere_turns, strict=True)
    ]


def _load(level: FieldOnMesh, coil: Coil, middle: float, ampere_turns: float) -> Floats:
    half = coil.winding_height / 2
    low = np.array([coil.inner_radius, middle - half])
    high = np.array([coil.outer_radius, middle + half])
    return ampere_turns * section_load(level, low, high)


def force_goal(coil: Coil, middle: float) -> Goal:
    """Return the force of a current at a height in metres, newton per ampere turn, as a goal.

    Positive outwards for a current along the azimuth: Bl's formula with the other sign.
    """
    goal = bl_goal(coil, middle)
    return lambda level: -goal(level) / coil.turns_in_series


@dataclass(frozen=True)
class ForcePart:
    """A part of the force on both meshes, and each coarse triangle's share in its change."""

    fine: float
    coarse: float
    shares: Floats

    def mixed(self, other: ForcePart, sign: float) -> ForcePart:
        """Return half the sum or the difference of two parts."""
        return ForcePart(
            (self.fine + sign * other.fine) / 2,
            (self.coarse + sign * other.coarse) / 2,
            (self.shares + sign * other.shares) / 2,
        )

    def estimate(self, factors: tuple[float, float, float], lost: float) -> Estimate:
        """Return the part with its numerical uncertainty.

        ``factors`` are ODD or EVEN, ``lost`` as in :class:`motor.field.field.ErrorModel`.
        """
        by_change, by_scatter, by_lost = factors
        parts = (
            by_change * (self.fine - self.coarse),
            by_scatter * float(np.abs(self.shares).sum()),
            by_lost * lost * self.fine,
            BOUNDARY_ERROR * self.fine,
        )
        return Estimate(self.fine, math.hypot(*parts))


def loaded_coil(
    field: Field,
    coil: Coil,
    position: float,
    current: float,
    *,
    accuracy: float | None = None,
    at_coil: float = AT_COIL,
) -> LoadedCoil:
    """Solve with the coil's own current at one position.

    The coil's own field is small and steep where the magnets' mesh is coarse: the mesh is made
    fine where the winding stands, and the uncertainty comes from the loaded forces on two meshes.

    Parameters
    ----------
    field : Field
        The magnets' field; the solve starts from it.
    coil : Coil
    position : float
        Displacement from rest, metres, positive outwards.
    current : float
        Ampere, not 0; positive pushes outwards at rest.
    accuracy : float or None
        Relative uncertainty of the force to be reached by refining for it; None to take the
        first mesh.
    at_coil : float
        Largest triangle edge where the winding stands; see AT_COIL.

    Raises
    ------
    SolveError
        If the loaded field does not converge, or the accuracy is out of reach.
    """
    mesh = loaded_mesh(field, coil, np.array([position]), at_coil)
    while True:
        plus, minus, unknowns = _both_signs(field, mesh, coil, position, current)
        odd = plus.mixed(minus, -1.0).estimate(ODD, field.errors.lost)
        even = plus.mixed(minus, 1.0).estimate(EVEN, field.errors.lost)
        spread = math.hypot(odd.uncertainty, even.uncertainty)
        found = LoadedCoil(
            position,
            current,
            Estimate(plus.fine, spread),
            Estimate(minus.fine, spread),
            odd,
            even,
            heating_rate(coil, current),
        )
        reached = found.force.uncertainty / abs(found.force.value)
        if accuracy is None or reached <= accuracy:
            return found
        if unknowns > MOST_UNKNOWNS:
            raise SolveError(
                f"an accuracy of {accuracy:.2g} is out of reach for the force: with {unknowns} "
                f"unknowns its uncertainty is still {reached:.2g}"
            )
        with step(f"refine for the force, {reached:.2g} reached of {accuracy:.2g}"):
            mesh = mesh.refined(doerfler_marking(np.abs(plus.shares) + np.abs(minus.shares)))


def loaded_mesh(field: Field, coil: Coil, positions: Floats, at_coil: float = AT_COIL) -> MotorMesh:
    """Return the coarse mesh of the magnets' field made fine where the winding stands.

    Parameters
    ----------
    field : Field
    coil : Coil
    positions : (n,) array
        Displacements from rest, metres, rising.
    at_coil : float
        See AT_COIL.
    """
    near = min(min(2 * c.winding_height, 3 * c.build_up, c.mean_radius / 3) for c in coil.each)
    return fine_at_coil(field.coarse.system.mesh, coil, positions, near, at_coil)


def _both_signs(
    field: Field, mesh: MotorMesh, coil: Coil, position: float, current: float
) -> tuple[ForcePart, ForcePart, int]:
    """Return the forces at both signs of the current on a mesh and the one cut from it."""
    turns = current * winding_sense(field, coil) * coil.turns_in_series
    goal = force_goal(coil, coil.rest_position + position)
    levels = [carried(field.fine, m) for m in (mesh.finer(), mesh)]
    loads = [coil_load(level, coil, coil.rest_position + position, turns) for level in levels]
    parts = []
    for sign in (1.0, -1.0):
        fine, coarse = (
            replace(
                level,
                solution=level.solver.solve(level.solution.reduced, extra_load=sign * load),
            )
            for level, load in zip(levels, loads, strict=True)
        )
        parts.append(force_part(Field(field.regions, fine, coarse, goal), sign * turns))
    return parts[0], parts[1], levels[0].system.size


def winding_sense(field: Field, coil: Coil) -> float:
    """Return the sign of azimuthal current (1 or -1) that pushes outwards at rest."""
    rest = force_goal(coil, coil.rest_position)(field.fine) @ field.fine.solution.reduced
    return 1.0 if rest >= 0 else -1.0


def force_part(loaded: Field, scale: float) -> ForcePart:
    """Return a scale times the goal of a field that was just solved on both its meshes."""
    value, before = (
        float(loaded.goal(x) @ x.solution.reduced) for x in (loaded.fine, loaded.coarse)
    )
    return ForcePart(scale * value, scale * before, scale * loaded.error_shares)


def carried(level: FieldOnMesh, mesh: MotorMesh) -> FieldOnMesh:
    """Return the magnets' field on another mesh of the same motor, carried over as a start."""
    old = level.system
    system = Discretisation(mesh, old.steels, old.magnets)
    if old.shares:
        every = np.ones(old.mesh.mesh.nelements)
        for name, share in old.shares.items():
            every[old.mesh.triangles_of(name)] = share
        centres = mesh.mesh.p[:, mesh.mesh.t].mean(axis=1)
        left = every[level.locate(*centres)[0]]
        system = system.with_shares({n: left[mesh.triangles_of(n)] for n in old.magnets})
    r, z = system.basis.doflocs
    start = level.potential_at(r, z)[system.free]
    return FieldOnMesh(system, Solver(system), Solution(start, (0.0,)))
