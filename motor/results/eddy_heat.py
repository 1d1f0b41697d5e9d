"""Heat of eddy currents in steel, magnets and rings, from a small model of the coil's field.

At each frequency of the programme, and at three displacements, the source's voltage drives

    I = U / (Rc + Ro + R_eddy + j w L),     R_eddy = sum over the parts of R_p,

whose heat is Rc I^2 in the coil and R_p I^2 in each part: what the source gives, all told, but for
its own resistance Ro.  Small currents about the magnets' field; the coil's motion is left out.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.base.steps import step
from motor.field.field import FieldOnMesh
from motor.field.heat_mesh import HeatMesh
from motor.field.meshing import MotorMesh
from motor.field.partition import AIR
from motor.field.reduced import modes
from motor.results.at_coil import AT_COIL
from motor.results.impedance import conductivity_of, equations
from motor.results.parallel_parts import between, loads_of
from motor.results.spectrum import Spectrum

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["EddyHeat", "eddy_heat"]

RATES = tuple((2 * np.pi * np.geomspace(10.0, 5e4, 9)).tolist())
"""Rates of growth whose fields the modes span, 1/s."""
SHARE = 1e-6
"""Energy that the modes may leave out, over that of each field."""
SKIN, NEAR_COIL = 2.8, 2.0
"""Thickness of the layer of triangles at a surface, in skin depths at the highest frequency, and
edges at the coil over AT_COIL: heat in all parts within 5e-4 on four of the demo designs, in the
coil within 2e-4, at a third of the time of half of each."""
COARSE = 1.5
"""How much coarser the model about the coarser field is at surfaces and coil."""
POINTS, WEIGHTS = np.array([-1.0, 0.0, 1.0]) * math.sqrt(3), np.array([1.0, 4.0, 1.0]) / 6
"""Displacements over their r.m.s. value, and weights: Gauss and Hermite's of three points."""


@dataclass(frozen=True)
class EddyHeat:
    """What a coil is to its source, and where heat arises; cases are frequencies by displacements.

    Parameters
    ----------
    parts : tuple of str
        All that conduct.
    share : (n,) array
        Of the mean square voltage in each case; sums to 1.
    omega : (n,) array
        Angular frequency of each case, 1/s.
    coupling : (n, k) array
        Of the coil in each case to the modes of its field, root of henry.
    masses : (parts, k, k) array
        Each part's conductivity in the modes, s.
    density : (triangles,) array
        On the magnetic mesh: share of its part's heat that arises in each triangle.
    circuits : (n, k, p) array
        What couples the modes to the currents between parts in parallel, root of second; p is 0
        without.  See :mod:`motor.results.parallel_parts`.
    """

    parts: tuple[str, ...]
    share: Floats
    omega: Floats
    coupling: Floats
    masses: Floats
    density: Floats
    circuits: Floats

    def scaled(self, conductivity: Floats) -> EddyHeat:
        """Return the same with each part's conductivity by a factor: array (parts,)."""
        return replace(self, masses=self.masses * conductivity[:, None, None])

    @functools.cached_property
    def answer(self) -> Complexes:
        """What the modes do under 1 A in each case: array (n, k), root of joule."""
        if self.circuits.shape[-1]:
            mass = self.masses.sum(axis=0) + self.circuits @ self.circuits.swapaxes(1, 2)
            whole = np.eye(mass.shape[-1]) + 1j * self.omega[:, None, None] * mass
            return np.asarray(np.linalg.solve(whole, self.coupling[..., None])[..., 0])
        times, turned = np.linalg.eigh(self.masses.sum(axis=0))
        lag = 1 + 1j * self.omega[:, None] * np.maximum(times, 0.0)
        return np.asarray((self.coupling @ turned / lag) @ turned.T)

    @functools.cached_property
    def impedance(self) -> Complexes:
        """What the held coil has beside its resistance in each case, from its flux linkage, ohm."""
        return np.asarray(1j * self.omega * (self.coupling * self.answer).sum(axis=1))

    @functools.cached_property
    def resistance(self) -> Floats:
        """Its real part from the losses of each part: array (n, parts), ohm."""
        a = self.answer
        losses = [np.einsum("nj,jk,nk->n", a.conj(), mass, a).real for mass in self.masses]
        return np.asarray(self.omega[:, None] ** 2 * np.array(losses).T)

    @functools.cached_property
    def sharing(self) -> Floats:
        """What currents between parts in parallel add to the coil's resistance, ohm: array (n,)."""
        driven = np.einsum("nkp,nk->np", self.circuits, self.answer)
        return np.asarray(self.omega**2 * (np.abs(driven) ** 2).sum(axis=1))

    def _squares(self, voltage: float, coil: float, output: float, scale: float) -> Floats:
        """Return the mean square current in each case, A^2."""
        whole = coil + output + scale * self.impedance
        return np.asarray(self.share * voltage**2 / np.abs(whole) ** 2)

    def heats(self, voltage: float, coil: float, output: float, scale: float = 1.0) -> Floats:
        """Return the heat in the coil and in each part, W: array (1 + parts,).

        Parameters
        ----------
        voltage : float
            R.m.s., of the source, V.
        coil, output : float
            Resistances of the winding and of the source, ohm.
        scale : float
            On all that eddy currents and inductance do.
        """
        squares = self._squares(voltage, coil, output, scale)
        own = coil * squares.sum() + scale * (squares @ self.sharing)
        return np.append(own, scale * (squares @ self.resistance))

    def taken(self, voltage: float, coil: float, output: float) -> float:
        """Return the power that the coil takes at its ends, W: the real part of U I*."""
        whole = coil + output + self.impedance
        given = self.share * voltage**2 * (1 / whole).real
        kept = output * self.share * voltage**2 / np.abs(whole) ** 2
        return float((given - kept).sum())

    def shares(self, motor: MotorMesh, mesh: HeatMesh) -> Mapping[str, Floats]:
        """Return for each part the share of its heat in each triangle of the mesh for heat."""
        solid = np.flatnonzero(motor.label != motor.names.index(AIR))
        found = {}
        for name in self.parts:
            share = np.zeros(len(mesh.label))
            share[: len(solid)] = self.density[solid]
            share[mesh.label != mesh.names.index(name)] = 0.0
            found[name] = share
        return found


def eddy_heat(
    result: MotorResult, level: FieldOnMesh, spectrum: Spectrum, displacement: float
) -> EddyHeat:
    """Return where a motor's eddy currents turn a programme into heat.

    Parameters
    ----------
    result : MotorResult
    level : FieldOnMesh
        The finer or the coarser of its fields.
    spectrum : Spectrum
    displacement : float
        R.m.s. travel, m.
    """
    design = result.design
    coarser = 1.0 if level is result.field.fine else COARSE
    low, high = result.bl_curve.x[[0, -1]]
    x = np.clip(displacement * POINTS, low, high)
    x, weight = (x, WEIGHTS) if displacement else (np.zeros(1), np.ones(1))
    with step("eddy currents") as now:
        highest = float(spectrum.frequency.max())
        whole = equations(
            result,
            level,
            x,
            highest,
            "reversible",
            coarser * SKIN,
            coarser * NEAR_COIL * AT_COIL,
        )
        loads = loads_of(whole.level, design.coil, x)
        fields = loads.reshape(len(loads), -1)
        span = modes(whole, [(rate, fields) for rate in (0.0, *RATES)], SHARE)
        now.detail = f"{whole.unknowns} unknowns, {len(span.times)} modes"
    coupling, vectors = span.coupling(loads), span.vectors
    circuits = np.zeros((*coupling.shape, 0))
    if loads.ndim == 3:
        apart = coupling.swapaxes(1, 2)
        coupling, circuits = between(design.coil, design.temperature, apart)
    parts = [r.name for r in design.regions if conductivity_of(design, r)]
    mesh = whole.level.system.mesh
    omega = 2 * np.pi * np.repeat(spectrum.frequency, len(x))
    own = [vectors.T @ (whole.mass_of(mesh.triangles_of(n)) @ vectors) for n in parts]
    share = (spectrum.share[:, None] * weight).ravel()
    count = len(spectrum.frequency)
    cases, loops = np.tile(coupling, (count, 1)), np.tile(circuits, (count, 1, 1))
    none = np.zeros(len(level.system.mesh.label))
    found = EddyHeat(tuple(parts), share, omega, cases, np.array(own), none, loops)
    square = share * omega**2 / np.abs(result.resistance + found.impedance) ** 2
    gram = np.einsum("n,nj,nk->jk", square, found.answer.conj(), found.answer).real
    value, turned = np.linalg.eigh(gram)
    kept = value > 1e-9 * value[-1]
    local = whole.losses((vectors @ turned[:, kept]) * np.sqrt(value[kept]))
    there, _ = level.system.mesh.locate(*mesh.mesh.p[:, mesh.mesh.t].mean(axis=1))
    density: Floats = np.bincount(there, local, len(none)).astype(float)
    for name in parts:
        here = level.system.mesh.triangles_of(name)
        density[here] /= density[here].sum()
    return replace(found, density=density)
