"""The impedance that a held coil adds to its resistance, and what every unknown changes of it.

Its flux linkage  b . a,  with (K + i w M) a = b  the small fields about the sample, changes by
2 a . db - a . (dK + i w dM) a: the equations are put together to either side of the sample, on the
mesh moved along with its corners, and solved in between only.  All is done on the coarser mesh;
what a finer one makes of the motor as drawn is added at every place.  The logarithm of the linkage
is linear in the unknowns, in factors' own logarithm; a fit makes it anew where its search has
gone far.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from geometries import Role
from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.base.steps import step
from motor.design.design import Design
from motor.field.eddy_currents import SKIN, Harmonic
from motor.field.field import FieldOnMesh
from motor.materials import Steel, TabulatedSteel, steel_named
from motor.materials.reversible import TYPICAL_INITIAL
from motor.results.at_coil import AT_COIL
from motor.results.impedance import (
    COARSER,
    HIGHEST,
    equations,
    linkage_errors,
    material_spreads,
)
from motor.results.motor_result import MotorResult
from motor.results.parallel_parts import loads_at
from motor.study.inductance_slopes import beside, linkage_change
from motor.study.neighbours import Neighbours
from motor.study.unknowns import PERMEABILITY, Unknown

__all__ = ["HeldCoil", "Meshing", "held_coil", "meshing", "permeable", "relative_changes"]

LOWEST, COUNT, FINE, WIDEST = 5.0, 9, 5, 1.5
"""Hertz below which nothing is computed, frequencies that are, those of the finer mesh, and the
least ratio of their ends."""
LEAST = 0.05
"""Of a factor, over where the coil was linearised."""


@dataclass(frozen=True)
class Meshing:
    """What a finer mesh makes of a held coil, at frequencies between which it is interpolated.

    Parameters
    ----------
    frequency : (m,) array
        Hertz, rising.
    finer : (m,) complex array
        To be added to the logarithm of the coarser mesh's linkage.
    terms : (4, m) complex array
        By what a standard deviation of each part of the numerical error changes it.
    """

    frequency: Floats
    finer: Complexes
    terms: Complexes


@dataclass(frozen=True)
class HeldCoil:
    """The impedance of a held coil at rest about a sample, at a measurement's n frequencies.

    Parameters
    ----------
    frequency : (n,) array
        Hertz.
    linkage : (n,) complex array
        Logarithm of flux linkage over ampere in henry, at ``at``.
    at : (p + q,) array
        The unknowns over their standard deviations: the p of the sample, then q of the
        measurement's own, which are a factor, numerical errors, and materials.
    slopes : (n, p + q) complex array
        Of the logarithm.
    bend : (p + q,) array
        Deviation over value of those in whose own logarithm it is linear, factors; 0 of others.
    """

    frequency: Floats
    linkage: Complexes
    at: Floats
    slopes: Complexes
    bend: Floats

    def impedance(self, s: Floats) -> Complexes:
        """Return what it adds to the winding's resistance at unknowns s, (n,) in ohm."""
        away = s - self.at
        bent = self.bend > 0
        away[bent] = np.log(self._grown(s)[bent]) / self.bend[bent]
        linkage = np.exp(self.linkage + self.slopes @ away)
        return np.asarray(2j * np.pi * self.frequency * linkage)

    def _grown(self, s: Floats) -> Floats:
        return np.maximum(1 + self.bend * (s - self.at), LEAST)

    def derivatives(self, s: Floats) -> Complexes:
        """Return the derivatives of that by s, (n, p + q) in ohm."""
        return np.asarray(self.slopes / self._grown(s) * self.impedance(s)[:, None])


def meshing(drawn: MotorResult, frequency: Floats) -> Meshing:
    """Return what a finer mesh makes of a motor's held coil over the range of frequencies (Hz).

    Raises
    ------
    InvalidInput, SolveError
    """
    coil = drawn.design.coil
    if coil.parts_share:
        raise InvalidInput("coil.connection", "be series for a measured impedance", "parallel")
    low = max(float(frequency.min()), LOWEST)
    high = min(max(float(frequency.max()), WIDEST * low), HIGHEST)
    places = np.geomspace(low, high, FINE)
    with step("coil held at rest, two meshes"):
        fine, coarse = (
            _linkage(_harmonic(drawn, level, high, coarser), drawn.design, places)[0]
            for level, coarser in ((drawn.field.fine, 1.0), (drawn.field.coarse, COARSER))
        )
    real, imaginary = linkage_errors(fine, fine - coarse)
    shapes = np.array([real / 2 / fine, 1j * imaginary / 2 / fine])
    turn = np.pi / 2 * np.linspace(0, 1, FINE)
    terms = np.concatenate([shapes * np.cos(turn), shapes * np.sin(turn)])
    return Meshing(places, np.log(fine / coarse), terms)


def held_coil(
    result: MotorResult,
    unknowns: Sequence[Unknown],
    sides: Mapping[str, Neighbours],
    frequency: Floats,
    meshes: Meshing,
    factor: float,
    s: Floats,
) -> HeldCoil:
    """Return a sample's held coil and what every unknown changes of it.

    Parameters
    ----------
    result : MotorResult
        At the unknowns s (p,).
    unknowns : sequence of Unknown
    sides : mapping of unknown to Neighbours
        Around the result.
    frequency : (n,) array
        Hertz.
    meshes : Meshing
    factor : float
        Standard deviation of what the whole may be wrong by, relative.
    s : (p,) array

    Raises
    ------
    SolveError
    """
    design, known = result.design, np.log(meshes.frequency)
    places = np.geomspace(meshes.frequency[0], meshes.frequency[-1], COUNT)
    omega: Complexes = np.asarray(2j * np.pi * places)
    finer = CubicSpline(known, np.vstack([meshes.finer, meshes.terms]), axis=1)(np.log(places))
    with step("coil held at rest, and what the unknowns change"):
        middle, linkage, a, by_sample = _around(result, unknowns, sides, places)
        stiffness, mass = material_spreads(design, middle)
        if any(u.name == PERMEABILITY for u in unknowns):
            stiffness = []
        by_material = [
            weight * np.pi * np.einsum("nk,nk->k", a, matrix @ a)
            for weight, matrices in ((1.0, stiffness), (omega, mass))
            for matrix in matrices
        ]
    slopes = np.array(
        [
            *by_sample,
            np.full(len(places), factor),
            *finer[1:],
            *(row / linkage for row in by_material),
        ]
    )
    x = np.log(np.clip(frequency, places[0], places[-1]))
    rows = np.vstack([np.log(linkage) + finer[0], slopes])
    found = CubicSpline(np.log(places), rows, axis=1)(x)
    at = np.concatenate([s, np.zeros(len(slopes) - len(s))])
    bend = np.zeros_like(at)
    for k, u in enumerate(unknowns):
        if u.name.startswith("factors."):
            bend[k] = u.deviation / (u.prior + u.deviation * s[k])
    return HeldCoil(frequency, found[0], at, found[1:].T, bend)


def relative_changes(
    result: MotorResult,
    unknowns: Sequence[Unknown],
    sides: Mapping[str, Neighbours],
    frequency: Floats,
) -> Complexes:
    """Return by how much of itself a held coil's linkage changes per deviation, (p, m).

    Parameters
    ----------
    result, unknowns, sides
        As for :func:`held_coil`.
    frequency : (m,) array
        Hertz, rising.
    """
    return np.array(_around(result, unknowns, sides, frequency)[-1])


def _around(
    result: MotorResult,
    unknowns: Sequence[Unknown],
    sides: Mapping[str, Neighbours],
    places: Floats,
) -> tuple[Harmonic, Complexes, Complexes, list[Complexes]]:
    """Return equations, linkage (m,), potentials, and relative changes per deviation, p of (m,)."""
    middle = _harmonic(result, result.field.coarse, float(places[-1]), COARSER)
    linkage, a = _linkage(middle, result.design, places)
    omega: Complexes = np.asarray(2j * np.pi * places)
    by_sample = [
        u.deviation * _change(middle, result, sides[u.name], a, omega) / linkage for u in unknowns
    ]
    return middle, linkage, a, by_sample


def _harmonic(result: MotorResult, level: FieldOnMesh, highest: float, coarser: float) -> Harmonic:
    rest = np.zeros(1)
    return equations(result, level, rest, highest, skin=coarser * SKIN, at_coil=coarser * AT_COIL)


def _linkage(harmonic: Harmonic, design: Design, places: Floats) -> tuple[Complexes, Complexes]:
    """Return flux linkage over ampere (m,), henry, and the potentials of 1 A (unknowns, m)."""
    load = loads_at(harmonic.level, design.coil, np.zeros(1))
    a = np.hstack([harmonic.potentials(float(f), load) for f in places])
    return np.asarray(2 * np.pi * (load.T @ a)[0]), a


def _change(
    middle: Harmonic, result: MotorResult, side: Neighbours, a: Complexes, omega: Complexes
) -> Complexes:
    """Return the derivative of the linkage (m,) from one side of a sample to the other."""
    if side.low.design.replace(moving_parts=side.high.design.moving_parts) == side.high.design:
        return np.zeros_like(omega)
    sides = [_beside(middle, result, end) for end in (side.low, side.high)]
    low, high = (
        loads_at(h.level, end.design.coil, np.zeros(1))
        for h, end in zip(sides, (side.low, side.high), strict=True)
    )
    columns = [a[:, [k]] for k in range(len(omega))]
    return linkage_change(columns, omega, sides, high - low)[:, 0] / side.step


def _beside(middle: Harmonic, result: MotorResult, end: MotorResult) -> Harmonic:
    """Return the equations about a neighbour, on the mesh moved along with its corners."""
    here, there = result.field.fine.system.mesh, end.field.fine.system.mesh
    way = None
    if there is not here:
        triangle, shares = here.locate(*middle.level.system.mesh.mesh.p)
        shift = (there.mesh.p - here.mesh.p)[:, here.mesh.t[:, triangle]]
        way = np.einsum("kn,ckn->cn", shares, shift)
    return beside(middle, end.design, end.field.fine, way)


def permeable(design: Design, factor: float) -> Design:
    """Return a design whose steels' reversible permeability is multiplied."""
    if factor == 1.0:
        return design
    if not factor > 0:
        raise InvalidInput("factors.permeability", "be greater than 0", factor)
    materials = design.materials
    steels = {r.name for r in design.regions if r.role is Role.STEEL} & set(materials.parts)
    own = {name: _scaled(materials.steel_of(name), factor) for name in steels}
    usual = materials.steel
    usual = steel_named(usual) if isinstance(usual, str) else usual
    return design.replace(
        materials=dataclasses.replace(
            materials, steel=_scaled(usual, factor), parts={**materials.parts, **own}
        )
    )


def _scaled(steel: Steel, factor: float) -> Steel:
    if not isinstance(steel, TabulatedSteel):
        raise InvalidInput("factors.permeability", "meet a steel given by a table", steel.name)
    first = steel.initial_permeability or TYPICAL_INITIAL
    return dataclasses.replace(
        steel,
        initial_permeability=first * factor,
        reversible_permeability=tuple((b, mu * factor) for b, mu in steel.reversible_permeability),
    )
