"""The blocked coil's impedance: inductance and eddy-current resistance over position."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import sparse

from geometries import Region, Role
from geometries.errors import millimetres
from motor.base.arrays import Complexes, Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import DrawablePage
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.design.characteristic import Table
from motor.design.coil import Coil
from motor.design.design import Design
from motor.field.eddy_currents import PERMEABILITIES, SKIN, Harmonic, resolved
from motor.field.field import FieldOnMesh
from motor.materials import Conductor, Magnet, Steel
from motor.results.at_coil import AT_COIL, fine_at_coil
from motor.results.loaded import carried
from motor.results.parallel_parts import linkage_of, loads_of

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = [
    "FREQUENCIES",
    "BlockedImpedance",
    "blocked_impedance",
    "conductivity_of",
    "equations",
    "linkage_errors",
    "material_spreads",
    "places_of",
]

FREQUENCIES = (30.0, 100.0, 300.0, 1000.0, 3000.0)
"""Hertz."""
HIGHEST = 20e3
"""Hertz; above it skin depths in steel are finer than the mesh becomes."""
POSITIONS = 16
"""Displacements besides rest over the coil's travel, half of them to either side."""

NEAR = (1.4, 4.0, 2.0)
"""Times the winding's height, its build-up and the gap's width, whichever is least: with AT_COIL
of that an edge at the winding is a third of the height, one build-up, half a gap."""
COARSER = 2.0
"""How much coarser at surfaces and coil the mesh is that the uncertainty comes from."""
CONDUCTOR_SPREAD, MAGNET_SPREAD = 0.02, 0.15
"""Shares by which conductivities may be more or less (common practice, no source)."""
REAL, REAL_FLOOR = 1.05, 5e-4
"""Uncertainty of L: the change of the complex linkage between the two meshes times the first, and
the second share of L, as squares.  This and the next were set on 97 motors to hold for 96 %."""
IMAGINARY, CROSSED, IMAGINARY_FLOOR = 1.5, 0.5, 2e-3
"""Uncertainty of the resistance: from its own change and the complex one, in the same way."""


@dataclass(frozen=True)
class BlockedImpedance(DrawablePage):
    """Impedance of a blocked coil, at small currents.

    Parameters
    ----------
    design : Design
    frequency : (n,) array
        Hertz, rising.
    position : (m,) array
        Displacements from rest in metres, rising.
    coil_resistance : float
        The winding's own, ohm.
    inductance, inductance_uncertainty : (n, m) array
        Henry: in-phase flux linkage over current.
    eddy_resistance, eddy_resistance_uncertainty : (n, m) array
        Ohm: what eddy currents add to the winding's own resistance; of parts in parallel, what
        the uneven sharing of the current adds too.
    unknowns : int
        Of the finer mesh.
    inductance_material_uncertainty, eddy_resistance_material_uncertainty : (n, m) array
        Henry and ohm: from the spread of initial permeabilities and conductivities, to first
        order, each steel and conductor by itself and all as the root of their squares' sum.
    permeability : str
        "reversible" or "slope"; see :mod:`motor.field.eddy_currents`.
    """

    design: Design
    frequency: Floats
    position: Floats
    coil_resistance: float
    inductance: Floats
    inductance_uncertainty: Floats
    eddy_resistance: Floats
    eddy_resistance_uncertainty: Floats
    unknowns: int
    inductance_material_uncertainty: Floats
    eddy_resistance_material_uncertainty: Floats
    permeability: str = "reversible"

    @functools.cached_property
    def impedance(self) -> Complexes:
        """Complex impedance in ohm, array (n, m)."""
        omega = 2 * np.pi * self.frequency[:, None]
        return np.asarray(
            self.coil_resistance + self.eddy_resistance + 1j * omega * self.inductance
        )

    @functools.cached_property
    def rest(self) -> int:
        """Index of the position nearest to rest."""
        return int(np.abs(self.position).argmin())

    def characteristic(self, frequency: float) -> Table:
        """Return L(x) at one of the frequencies (Hz), as the driver's model takes it.

        Raises
        ------
        InvalidInput
            If the frequency is not one of those computed.
        """
        here = np.flatnonzero(np.isclose(self.frequency, frequency, rtol=1e-6))
        if not len(here):
            known = ", ".join(f"{f:g}" for f in self.frequency)
            raise InvalidInput("frequency", f"be one of {known} Hz", f"{frequency:g} Hz")
        return Table(tuple(self.position.tolist()), tuple(self.inductance[here[0]].tolist()))

    def rows(self) -> list[dict[str, float | None]]:
        """Return one record per frequency and position, units in the names."""
        return [
            {
                "frequency_Hz": float(f),
                "displacement_mm": float(x) * 1e3,
                "inductance_mH": float(self.inductance[i, k]) * 1e3,
                "inductance_uncertainty_mH": finite(self.inductance_uncertainty[i, k] * 1e3),
                "inductance_material_uncertainty_mH": float(
                    self.inductance_material_uncertainty[i, k] * 1e3
                ),
                "eddy_resistance_ohm": float(self.eddy_resistance[i, k]),
                "eddy_resistance_uncertainty_ohm": finite(self.eddy_resistance_uncertainty[i, k]),
                "eddy_resistance_material_uncertainty_ohm": float(
                    self.eddy_resistance_material_uncertainty[i, k]
                ),
                "impedance_ohm": float(np.abs(self.impedance[i, k])),
            }
            for i, f in enumerate(self.frequency)
            for k, x in enumerate(self.position)
        ]

    def summary(self) -> dict[str, Any]:
        """Return the record under names that carry their unit."""
        return {
            **origin(),
            "name": self.design.name,
            "coil_resistance_ohm": self.coil_resistance,
            "unknowns": self.unknowns,
            "permeability": self.permeability,
            "rows": self.rows(),
        }


@one_blas_thread()
def blocked_impedance(
    result: MotorResult,
    positions: Sequence[float] | None = None,
    frequencies: Sequence[float] = FREQUENCIES,
    *,
    skin: float = SKIN,
    at_coil: float = AT_COIL,
    permeability: str = "reversible",
) -> BlockedImpedance:
    """Return the impedance of a motor's coil, blocked at some positions, at some frequencies.

    Eddy currents flow in steel, magnets and rings; winding and former carry none of their own.
    The uncertainty comes from a second computation about the coarser of the two solved fields,
    on a mesh that is coarser at surfaces and coil too.

    Parameters
    ----------
    result : MotorResult
        Every uncertainty is nan if it was solved on one mesh only.
    positions : sequence of float or None
        Displacements from rest in metres; None for POSITIONS over the coil's travel.
    frequencies : sequence of float
        Hertz; the highest decides how thin the layers at surfaces become.
    skin : float
        Thickness of the layer of triangles at a conductor's surface, in skin depths.
    at_coil : float
        How fine the mesh is around the winding; see AT_COIL.
    permeability : str
        "reversible": steel runs on minor loops; "slope": along its magnetising curve.

    Raises
    ------
    InvalidInput
        If the permeability is neither, a list is empty, a position is out of the coil's reach,
        or a frequency is negative or not finite.
    SolveError
    """
    x, f = places_of(result, positions, frequencies)
    field = result.field
    with step("blocked coil, alternating current") as now:
        highest = float(f[-1])
        fine = equations(result, field.fine, x, highest, permeability, skin, at_coil)
        linkage, material = _linkages(result, fine, x, f)
        now.detail = f"{fine.unknowns} unknowns"
        change = np.full_like(linkage, complex(np.nan, np.nan))
        if field.coarse is not field.fine:
            skin, at_coil = COARSER * skin, COARSER * at_coil
            coarse = equations(result, field.coarse, x, highest, permeability, skin, at_coil)
            change = linkage - _linkages(result, coarse, x, f)[0]
    omega = 2 * np.pi * f[:, None]
    stated, lost = linkage_errors(linkage, change)
    return BlockedImpedance(
        result.design,
        f,
        x,
        result.resistance,
        linkage.real,
        stated,
        -omega * linkage.imag + 0.0,
        omega * lost,
        fine.unknowns,
        material.real,
        omega * material.imag,
        permeability,
    )


def linkage_errors(linkage: Complexes, change: Complexes) -> tuple[Floats, Floats]:
    """Return the numerical uncertainty of a flux linkage's real and imaginary part.

    Parameters
    ----------
    linkage, change : array
        Per ampere in henry, and what it changes by from a coarser mesh to its own; nan stays nan.
    """
    real = np.hypot(REAL * np.abs(change), REAL_FLOOR * linkage.real)
    both = np.hypot(IMAGINARY * change.imag, CROSSED * np.abs(change))
    return real, np.hypot(both, IMAGINARY_FLOOR * linkage.imag)


def places_of(
    result: MotorResult, positions: Sequence[float] | None, frequencies: Sequence[float]
) -> tuple[Floats, Floats]:
    """Return positions (m) and frequencies (Hz) asked for, rising, each once.

    Raises
    ------
    InvalidInput
        As :func:`blocked_impedance`.
    """
    low, high = result.bl_curve.x[[0, -1]]
    if positions is None:
        positions = [
            *np.linspace(low, 0, POSITIONS // 2 + 1),
            *np.linspace(0, high, POSITIONS // 2 + 1),
        ]
    x, f = np.unique(np.asarray(positions, float)), np.unique(np.asarray(frequencies, float))
    if not (len(x) and low <= x[0] and x[-1] <= high):
        raise InvalidInput(
            "positions",
            f"be one or more within the coil's travel, {millimetres(low)} to {millimetres(high)}",
            ", ".join(map(millimetres, x)) or "none",
        )
    if not (len(f) and f[0] >= 0 and f[-1] <= HIGHEST):
        raise InvalidInput(
            "frequency",
            f"lie between 0 and {HIGHEST:g} Hz",
            ", ".join(f"{k:g} Hz" for k in f) or "none",
        )
    return x, f


def conductivity_of(design: Design, region: Region) -> float:
    """Return a part's conductivity in S/m at its temperature, of magnets at 20 degC."""
    material, kelvin = design.materials.material_of(region), design.temperature_of(region.name)
    if isinstance(material, Conductor):
        return 1 / material.resistivity_at(kelvin)
    if isinstance(material, Steel):
        return material.conductivity_at(kelvin)
    return material.conductivity


def equations(
    result: MotorResult,
    about: FieldOnMesh,
    positions: Floats,
    highest: float,
    permeability: str = "reversible",
    skin: float = SKIN,
    at_coil: float = AT_COIL,
    room: Coil | None = None,
) -> Harmonic:
    """Return the equations of small alternating fields about a solved field of a motor.

    Parameters
    ----------
    result : MotorResult
    about : FieldOnMesh
        The finer or the coarser of its fields.
    positions : (m,) array
        Displacements from rest in metres, rising: where the mesh is to be fine for the coil.
    highest : float
        Hertz, up to which the skin is resolved.
    permeability, skin, at_coil
        As for :func:`blocked_impedance`.
    room : Coil or None
        In whose way the mesh is to be fine; None for the design's own.

    Raises
    ------
    InvalidInput
        If the permeability is neither.
    """
    if permeability not in PERMEABILITIES:
        raise InvalidInput("permeability", f"be {' or '.join(PERMEABILITIES)}", permeability)
    design, coil = result.design, result.design.coil
    conductivity = {region.name: conductivity_of(design, region) for region in design.regions}
    height, build, gap = NEAR
    near = min(min(height * c.winding_height, build * c.build_up) for c in coil.each)
    near = min(gap * design.geometry.gap.width, near)
    mesh = fine_at_coil(about.system.mesh, room or coil, positions, near, at_coil)
    level = carried(about, mesh)
    level = replace(level, solution=level.solver.solve(level.solution.reduced))
    return resolved(level, conductivity, highest, skin, permeability)


def _linkages(
    result: MotorResult, harmonic: Harmonic, positions: Floats, frequencies: Floats
) -> tuple[Complexes, Complexes]:
    """Return flux linkage over current in henry, and what materials' spreads make of it.

    Both are arrays (frequency, position).
    """
    design, coil = result.design, result.design.coil
    loads = loads_of(harmonic.level, coil, positions)
    stiffness, mass = material_spreads(design, harmonic)
    linked, material = [], []
    for f in frequencies:
        here, a = linkage_of(coil, design.temperature, harmonic, loads, float(f))
        linked.append(here)
        changes = [(1.0, m) for m in stiffness] + [(2j * np.pi * float(f), m) for m in mass]
        parts = np.array([w * np.einsum("nk,nk->k", a, m @ a) for w, m in changes])
        parts = 2 * np.pi * parts.reshape(-1, len(positions))
        squares = (parts.real**2).sum(axis=0), (parts.imag**2).sum(axis=0)
        material.append(np.sqrt(squares[0]) + 1j * np.sqrt(squares[1]))
    return np.array(linked), np.array(material)


def material_spreads(
    design: Design, harmonic: Harmonic
) -> tuple[list[sparse.csc_matrix], list[sparse.csc_matrix]]:
    """Return half the change over each material's spread: of the stiffness, and of the mass."""
    steels = dict.fromkeys(
        design.materials.steel_of(region.name).curve()
        for region in design.regions
        if region.role is Role.STEEL
    )
    reversible = [curve for curve in steels if curve.law is not None and harmonic.reversible]
    mesh = harmonic.level.system.mesh
    parts: dict[tuple[str, float], list[str]] = {}
    for region in design.regions:
        if conductivity_of(design, region):
            material = design.materials.material_of(region)
            parts.setdefault((material.name, _spread_of(material)), []).append(region.name)
    return [harmonic.stiffness_spread(curve) for curve in reversible], [
        spread * harmonic.mass_of(np.concatenate([mesh.triangles_of(name) for name in names]))
        for (_, spread), names in parts.items()
    ]


def _spread_of(material: Magnet | Steel | Conductor) -> float:
    """Return the share by which a conductivity may be more or less."""
    if isinstance(material, Steel):
        return material.conductivity_spread
    return CONDUCTOR_SPREAD if isinstance(material, Conductor) else MAGNET_SPREAD
