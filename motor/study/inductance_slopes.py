"""What a small change of each parameter does to a held coil's inductance and eddy resistance.

Its flux linkage  b . a,  with (K + i w M) a = b  the small fields about the solved motor, changes
by  2 a . db - a . (dK + i w dM) a:  the equations are put together to either side, on the mesh
moved along with its corners, and solved in between only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.base.steps import step
from motor.design.design import Design
from motor.field.eddy_currents import SKIN, Harmonic
from motor.field.field import FieldOnMesh
from motor.field.motion import Mover, NoSmoothMotionError
from motor.results.at_coil import AT_COIL
from motor.results.impedance import COARSER, conductivity_of, equations, places_of
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult
from motor.results.parallel_parts import loads_at
from motor.study.neighbours import Change, fields
from motor.study.slope_records import InductanceSlopes

__all__ = ["SmallFields", "beside", "linkage_change"]

REAL, REAL_FLOOR = 1.4, 1.4e-2
"""The uncertainty of L's derivative: what that of the complex linkage changes by between the two
meshes times the first, and the second share of it, as squares."""
IMAGINARY, IMAGINARY_FLOOR = 0.8, 3e-3
"""The uncertainty of the resistance's derivative, in the same way."""


@dataclass(frozen=True)
class _OnMesh:
    """Small fields of 1 A in the winding about one level of a solved motor.

    Parameters
    ----------
    level : FieldOnMesh
        Of the solved motor.
    harmonic : Harmonic
    potentials : list of (unknowns, m) arrays
        By frequency.
    triangle, shares : (vertices,) and (3, vertices) array
        Where the vertices lie in the solved motor's coarser mesh.
    """

    level: FieldOnMesh
    harmonic: Harmonic
    potentials: Sequence[Complexes]
    triangle: np.ndarray
    shares: Floats


class SmallFields:
    """A solved motor's held coil, to be differentiated by one parameter after the other.

    Parameters
    ----------
    result : MotorResult
    levels : sequence of FieldOnMesh
        The finer and, if there is one, the coarser; tangents set.
    frequencies : sequence of float
        Hertz.
    positions : sequence of float or None
        Displacements from rest in metres; None for as many as of an impedance.
    finer : float
        By how much finer than usual the mesh is at surfaces and coil.

    Raises
    ------
    InvalidInput
        As :func:`motor.results.impedance.blocked_impedance`, and of parts in parallel.
    SolveError
    """

    def __init__(
        self,
        result: MotorResult,
        levels: Sequence[FieldOnMesh],
        frequencies: Sequence[float],
        positions: Sequence[float] | None = None,
        *,
        finer: float = 1.0,
    ) -> None:
        coil = result.design.coil
        if coil.parts_share:
            raise InvalidInput("coil.connection", "be series for L(x)'s derivatives", "parallel")
        self.position, self.frequency = places_of(result, positions, frequencies)
        self._result = result
        self._omega: Complexes = np.asarray(2j * np.pi * self.frequency)
        self._mesh = result.field.coarse.system.mesh
        self._mover = Mover(self._mesh, result.design.regions, rings=True)
        with step("blocked coil, alternating current, for its derivatives"):
            self._on = [
                self._about(level, (COARSER if k else 1.0) / finer)
                for k, level in enumerate(levels)
            ]

    def _about(self, level: FieldOnMesh, coarser: float) -> _OnMesh:
        harmonic = equations(
            self._result,
            level,
            self.position,
            float(self.frequency[-1]),
            skin=coarser * SKIN,
            at_coil=coarser * AT_COIL,
        )
        loads = loads_at(harmonic.level, self._result.design.coil, self.position)
        found = [harmonic.potentials(float(f), loads) for f in self.frequency]
        triangle, shares = self._mesh.locate(*harmonic.level.system.mesh.mesh.p)
        return _OnMesh(level, harmonic, found, triangle, shares)

    def _moves_with(self, change: Change) -> Floats | None:
        """Return how the coarser mesh's vertices go, rings' too; None where none does.

        Raises
        ------
        NoSmoothMotionError
            Where parts, rings among them, would come apart.
        """
        if change.bare:
            raise NoSmoothMotionError("a ring is in its way")
        low, high = change.low.regions, change.high.regions
        return None if low == high else self._mover.shifts(low, high)

    def slopes(self, change: Change, shift: Floats | None) -> tuple[Floats, Floats]:
        """Return the derivatives by one parameter as in :class:`InductanceSlopes`.

        Parameters
        ----------
        change : Change
        shift : array or None
            Of the vertices for the steady field; see :func:`motor.study.neighbours.ends`.

        Raises
        ------
        NoSmoothMotionError
        """
        moving = self._moves_with(change)
        found = [self._slope(on, change, shift, moving) for on in self._on]
        slope, size = found[0], np.abs(found[0])
        less = np.abs(slope - found[1]) if len(found) > 1 else np.full_like(size, np.nan)
        stated = np.hypot(REAL * less, REAL_FLOOR * size)
        lost = np.hypot(IMAGINARY * less, IMAGINARY_FLOOR * size)
        omega = np.abs(self._omega)[:, None]
        return (
            np.array([slope.real, stated]),
            omega * np.array([-slope.imag + 0.0, lost]),
        )

    def found(
        self, slopes: Mapping[str, tuple[Floats, Floats]], refused: Mapping[str, str]
    ) -> InductanceSlopes:
        """Return the record of derivatives by parameter, as of :meth:`slopes`."""
        inductance, resistance = ({n: both[k] for n, both in slopes.items()} for k in (0, 1))
        return InductanceSlopes(self.frequency, self.position, inductance, resistance, refused)

    def _slope(
        self, on: _OnMesh, change: Change, shift: Floats | None, moving: Floats | None
    ) -> Complexes:
        """Return the derivative of the linkage per ampere, henry per the parameter's unit."""
        middle, designs = on.harmonic, (change.low, change.high)
        found = np.zeros((len(self._omega), len(self.position)), complex)
        if not (moving is not None or change.read):
            return found
        sides = [middle, middle]
        if moving is not None or change.magnetic:
            about = fields(self._result, on.level, change, shift)
            sides = [
                self._beside(on, design, field, sign / 2, moving)
                for design, field, sign in zip(designs, about, (-1, 1), strict=True)
            ]
        more = None
        if moving is not None or change.low.coil != change.high.coil:
            low, high = (
                loads_at(side.level, design.coil, self.position)
                for side, design in zip(sides, designs, strict=True)
            )
            more = high - low
        return linkage_change(on.potentials, self._omega, sides, more) / change.step

    def _beside(
        self, on: _OnMesh, design: Design, about: FieldOnMesh, share: float, moving: Floats | None
    ) -> Harmonic:
        """Return the equations of a neighbour, on the mesh moved along with its corners."""
        way = None
        if moving is not None:
            at_corners = moving[:, self._mesh.mesh.t[:, on.triangle]]
            way = share * np.einsum("kn,ckn->cn", on.shares, at_corners)
        return beside(on.harmonic, design, about, way)


def beside(middle: Harmonic, design: Design, about: FieldOnMesh, way: Floats | None) -> Harmonic:
    """Return the equations of small fields about a neighbour, on the same triangles.

    Parameters
    ----------
    middle : Harmonic
        Of the solved motor.
    design : Design
        The neighbour.
    about : FieldOnMesh
        Its steady field.
    way : (2, vertices) array or None
        How far the vertices go, metres; None if they stay.
    """
    mesh = middle.level.system.mesh
    if way is not None:
        mesh = mesh.moved(way, design.regions, design.geometry.gap)
    conductivity = {region.name: conductivity_of(design, region) for region in design.regions}
    return middle.moved(mesh, *field_materials(design), conductivity, about)


def linkage_change(
    potentials: Sequence[Complexes],
    omega: Complexes,
    sides: Sequence[Harmonic],
    more: Floats | None,
) -> Complexes:
    """Return by how much a held coil's flux linkage over ampere differs between two sides.

    Parameters
    ----------
    potentials : n (unknowns, m) arrays
        Of 1 A in between, by frequency.
    omega : (n,) array
        i times the angular frequency, 1/s.
    sides : two Harmonic
        Equations on either side, of the same triangles; one and the same where only loads differ.
    more : (unknowns, m) array or None
        By how much the load of 1 A is larger on the second; None if it is not.

    Returns
    -------
    (n, m) array
        Henry.
    """
    found = np.zeros((len(omega), potentials[0].shape[1]), complex)
    apart = None if sides[0] is sides[1] else sides[0].differences(sides[1])
    for k, (a, w) in enumerate(zip(potentials, omega, strict=True)):
        if more is not None:
            found[k] = 2 * np.einsum("nk,nk->k", more, a)
        if apart is not None:
            stiffness, mass = apart
            found[k] -= np.einsum("nk,nk->k", a, stiffness @ a + w * (mass @ a))
    return np.asarray(2 * np.pi * found)
