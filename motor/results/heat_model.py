"""A design as a body that warms: what it is made of, how it sheds heat, where it settles.

Coefficients to the air follow the temperatures (natural convection, radiation, air in the gap),
so equations are solved again until they stand still; in a few modes that takes a millisecond.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import brentq

from geometries import Role
from motor.base.arrays import Floats
from motor.base.errors import SolveError
from motor.design.coil import Coil
from motor.design.design import Design
from motor.design.wire import FlatWire
from motor.field.heat import HeatSystem, ReducedHeat, Solid
from motor.field.heat_links import (
    coil_links,
    displacements,
    joint_links,
    surface_links,
    top_link,
)
from motor.field.heat_mesh import FORMER, WINDING, HeatMesh, heat_mesh
from motor.field.meshing import MotorMesh
from motor.materials import REFERENCE_TEMPERATURE, conductor_named, former_named
from motor.materials.thermal import thermal_named, thermal_of
from motor.results.eddy_heat import EddyHeat
from motor.results.heat_surroundings import Surroundings

__all__ = ["HeatModel", "Settled", "heat_model", "winding_solid"]

ROUNDS, STANDSTILL = 200, 1e-7
"""Most rounds until temperatures stand still, and by how many kelvin they may still move."""
RATES = tuple(np.geomspace(3e-5, 10.0, 9).tolist())
"""1/s: rates that the modes are made for; from hours to a tenth of a second."""


def winding_solid(coil: Coil) -> Solid:
    """Return a winding as one body: conductors in enamel.

    Round wire: Rayleigh (1892) for cylinders in a matrix, across them; flat wire: layers in series
    along the coil, in parallel across it.
    """
    metal = thermal_of(conductor_named(coil.wire.material))
    enamel = thermal_named("enamel")
    fill = coil.fill_factor
    k, m = metal.conductivity, enamel.conductivity
    if isinstance(coil.wire, FlatWire):
        thick, wide = coil.wire.thickness / coil.wire.pitch, coil.wire.width / coil.wire.build
        along = 1 / (thick / k + (1 - thick) / m)
        across = 1 / (wide / k + (1 - wide) / m)
    else:
        across = along = m * ((k + m) + fill * (k - m)) / ((k + m) - fill * (k - m))
    density = conductor_named(coil.wire.material).density
    stored = fill * density * metal.capacity
    capacity = stored + (1 - fill) * 1400.0 * enamel.capacity
    return Solid(across, along, capacity, 0.0, metal.capacity_slope * stored / capacity)


def _solids(design: Design, mesh: HeatMesh) -> dict[str, Solid]:
    found = {}
    for region in design.regions:
        material = design.materials.material_of(region)
        heat = thermal_of(material)
        density = getattr(material, "density", 0.0) or 5000.0
        found[region.name] = Solid(
            heat.conductivity,
            heat.conductivity,
            density * heat.capacity,
            heat.conductivity_slope,
            heat.capacity_slope,
        )
    for name, coil in zip(mesh.windings, design.coil.each, strict=True):
        found[name] = winding_solid(coil)
    if FORMER in mesh.names:
        name = design.coil.former_material or "polyimide"
        heat, density = thermal_named(name), former_named(name).density
        found[FORMER] = Solid(heat.conductivity, heat.conductivity, density * heat.capacity)
    return found


@dataclass(frozen=True)
class Settled:
    """Where temperatures settle.

    Parameters
    ----------
    state : (k,) array
        In the model's modes.
    heat : float
        In the coil, W.
    losses : mapping of part to float
        Heat of eddy currents in each part, W; empty where they are left out.
    coil : float
        Mean of the winding, which its resistance shows, K.
    coefficients : mapping of kind to float
    """

    state: Floats
    heat: float
    losses: Mapping[str, float]
    coil: float
    coefficients: Mapping[str, float]


@dataclass(frozen=True)
class HeatModel:
    """The thermal model of a design on one mesh.

    Parameters
    ----------
    design : Design
    reduced : ReducedHeat
    around : Surroundings
    mesh : HeatMesh
    eddy : EddyHeat or None
        Heat of eddy currents in the parts; None where it is left out.
    misfit : float
        Largest difference to the whole equations where the modes were made, K.
    """

    design: Design
    reduced: ReducedHeat
    around: Surroundings
    mesh: HeatMesh
    eddy: EddyHeat | None = None
    misfit: float = 0.0

    @property
    def ambient(self) -> float:
        """Of the air, K."""
        return self.around.ambient

    def coefficients(self, state: Floats) -> dict[str, float]:
        """Return each way's coefficient at a state of temperatures."""
        kinds = list(self.reduced.links)
        near = dict(zip(kinds, (self.reduced.near_rows @ state).tolist(), strict=True))
        far = dict(zip(kinds, (self.reduced.far_rows @ state).tolist(), strict=True))
        return self.around.coefficients(near, far)

    @functools.cached_property
    def windings(self) -> list[tuple[float, float]]:
        """Resistance at 20 degC in ohm of each winding, and its relative change per kelvin."""
        return [
            (coil.resistance(), conductor_named(coil.wire.material).temperature_coefficient)
            for coil in self.design.coil.each
        ]

    @property
    def output_resistance(self) -> float:
        """Of amplifier and leads, ohm."""
        amplifier = self.design.amplifier
        return amplifier.output_resistance if amplifier else 0.0

    def resistance(self, temperature: float) -> float:
        """Return the coil's resistance in ohm at its mean temperature in K."""
        return self.design.coil.resistance(max(temperature, 100.0))

    def voltage(self, power: float) -> float:
        """Return the source's r.m.s. voltage that gives a power in W in the coil at 20 degC."""
        cold = self.resistance(REFERENCE_TEMPERATURE)
        return math.sqrt(power / cold) * (cold + self.output_resistance)

    def heats(self, voltage: float, coil: float) -> Floats:
        """Return the heat in W of a source voltage: in a coil at a mean temperature in K, in parts.

        Parts in the order of the reduced model's losses.
        """
        warm = self.resistance(coil)
        if self.eddy is not None:
            scale = self.around.scales.get("eddy currents", 1.0)
            return self.eddy.heats(voltage, warm, self.output_resistance, scale)
        return np.array([warm * (voltage / (warm + self.output_resistance)) ** 2])

    def loads(self, state: Floats) -> Floats:
        """Return the loads of 1 W in the coil and in each part with heat of its own."""
        return np.vstack([self.load(state), self.reduced.load_rows])

    def load(self, state: Floats) -> Floats:
        """Return 1 W spread over the windings as their local resistance has it.

        Parts in series share it as their warm resistances, parts in parallel inversely.
        """
        reduced = self.reduced
        return self.spread(reduced.sources, reduced.source_slopes, state)

    def spread(self, sources: Iterable[Floats], slopes: Iterable[Any], state: Floats) -> Floats:
        """Return the same from each winding's even source and what goes with temperature."""
        shapes, weights = [], []
        parallel = self.design.coil.connection == "parallel"
        for (ohm, slope), source, local in zip(self.windings, sources, slopes, strict=True):
            base = 1 + slope * (self.ambient - REFERENCE_TEMPERATURE)
            warm = base + slope * float(source @ state)
            shapes.append((base * source + slope * (local @ state)) / warm)
            weights.append(1 / (ohm * warm) if parallel else ohm * warm)
        return np.asarray(np.average(shapes, axis=0, weights=weights))

    def rises(self, state: Floats) -> Floats:
        """Return by how much the bodies' means are above 20 degC, K."""
        return np.asarray(self.reduced.means @ state + (self.ambient - REFERENCE_TEMPERATURE))

    def solid(self, state: Floats) -> Floats:
        """Return the conductivities of the bodies over those at 20 degC."""
        warm = 1 + self.reduced.conduction_slope * self.rises(state)
        return np.asarray(self.around.scales.get("conductivity", 1.0) * np.clip(warm, 0.5, 2.0))

    def matrix(self, coefficients: Mapping[str, float], state: Floats) -> Floats:
        """Return the stiffness in W/K with these coefficients at a state of temperatures."""
        reduced = self.reduced
        values = np.array([coefficients[kind] for kind in reduced.links])
        solid = np.tensordot(self.solid(state), reduced.conductions, 1)
        return np.asarray(solid + np.tensordot(values, reduced.link_matrices, 1))

    def settle(self, power: float, start: Settled | None = None) -> Settled:
        """Return where a programme settles whose power in the coil at 20 degC is given, W.

        Raises
        ------
        SolveError
            If temperatures do not stand still.
        """
        volts = self.voltage(power)
        state = np.zeros(len(self.reduced.source)) if start is None else start.state
        mean = self.reduced.mean[WINDING]
        moved = math.inf
        for _ in range(ROUNDS):
            coefficients = self.coefficients(state)
            unit = np.linalg.solve(self.matrix(coefficients, state), self.loads(state).T)
            ways = mean @ unit

            def excess(rise: float, ways: Floats = ways) -> float:
                return float(self.heats(volts, self.ambient + rise) @ ways) - rise

            top = 10.0
            while excess(top) > 0:
                top *= 3
            rise = 0.0 if volts == 0 else float(brentq(excess, 0.0, top, xtol=1e-9))
            heat = self.heats(volts, self.ambient + rise)
            change = unit @ heat - state
            moved = float(np.abs(mean @ change)) + 0.1 * self._movement(change)
            state = np.asarray(unit @ heat, float)
            if moved < STANDSTILL:
                break
        else:
            raise SolveError(f"temperatures still move by {moved:.1e} K after {ROUNDS} rounds")
        coil = self.ambient + float(mean @ state)
        losses = dict(zip(self.reduced.losses, heat[1:].tolist(), strict=True))
        return Settled(state, float(heat[0]), losses, coil, coefficients)

    def _movement(self, change: Floats) -> float:
        return float(np.abs(self.reduced.near_rows @ change).max())


def _watched(design: Design, mesh: HeatMesh) -> dict[str, sparse.csr_matrix]:
    """Return what reads the temperatures of winding, former, magnets, and bonds."""

    def nodes(name: str) -> sparse.csr_matrix:
        which = np.unique(mesh.basis.element_dofs[:, mesh.triangles_of(name)])
        rows = np.arange(len(which))
        return sparse.csr_matrix((np.ones(len(which)), (rows, which)), (len(which), mesh.basis.N))

    magnets = [r.name for r in design.regions if r.role is Role.MAGNET]
    found = {name: nodes(name) for name in mesh.names}
    found[WINDING] = sparse.vstack([found[name] for name in mesh.windings]).tocsr()
    first, second = mesh.joints
    glued = np.isin(mesh.label, [mesh.names.index(n) for n in magnets])
    bonds = []
    for edges in (first, second):
        here = edges[glued[first.triangle] | glued[second.triangle]]
        bonds.append(mesh.at(here.triangle.repeat(3), here.points.reshape(2, -1)))
    found["bond"] = sparse.vstack(bonds).tocsr()
    return found


def _body_nodes(mesh: HeatMesh, name: str) -> Floats:
    mask = np.zeros(mesh.basis.N)
    mask[mesh.basis.element_dofs[:, mesh.triangles_of(name)]] = 1.0
    return mask


def heat_model(
    design: Design,
    motor: MotorMesh,
    *,
    divisions: int,
    displacement: float,
    powers: tuple[float, ...],
    eddy: EddyHeat | None = None,
) -> HeatModel:
    """Return the thermal model of a design.

    Parameters
    ----------
    design : Design
    motor : MotorMesh
        Mesh of its magnetic field.
    divisions : int
        Rows of the winding's grid.
    displacement : float
        R.m.s. travel, m.
    powers : tuple of float
        Programme powers in W for which the modes are made.
    eddy : EddyHeat or None
        Heat of eddy currents in the parts.
    """
    rules, gap, travel = design.heat, design.geometry.gap, design.contact
    mesh = heat_mesh(motor, design.coil, divisions)
    x = displacements(displacement, -travel.inward, travel.outward)
    magnets = [r.name for r in design.regions if r.role is Role.MAGNET]
    links = [
        *surface_links(mesh, gap),
        *coil_links(mesh, gap, x, filled=rules.ferrofluid == "filled"),
        *joint_links(mesh, magnets),
        top_link(mesh),
    ]
    losses = None if eddy is None else eddy.shares(motor, mesh)
    system = HeatSystem(mesh, _solids(design, mesh), links, _shares(design.coil), losses)
    shine = {}
    for kind in ("side", "front", "back"):
        weights = {
            r: float(system.links[kind].near @ _body_nodes(mesh, r.name)) for r in design.regions
        }
        shine[kind] = rules.emissivity or sum(
            share * thermal_of(design.materials.material_of(r)).emissivity
            for r, share in weights.items()
        )
    ends = mesh.outside.ends
    sizes = {"diameter": 2 * float(ends[0].max()), "height": float(np.ptp(ends[1]))}
    ambient = rules.ambient if rules.ambient is not None else design.temperature
    around = Surroundings(design, ambient, shine, sizes)
    watched = _watched(design, mesh)
    flat = dict.fromkeys(system.links, 40.0)
    start = {k: v for k, v in around.coefficients(flat, flat).items() if k in system.links}
    fields = system.snapshots(start, RATES)
    misfit = 0.0
    for power in powers:
        model = HeatModel(design, system.reduced(fields, watched), around, mesh, eddy)
        fields = np.column_stack([fields, _exact(model, system, power)[0]])
    model = HeatModel(design, system.reduced(fields, watched), around, mesh, eddy)
    for power in powers:
        exact, close = _exact(model, system, power)
        misfit = max(misfit, float(np.abs(exact - close).max()))
    return replace(model, misfit=misfit)


def _exact(model: HeatModel, system: HeatSystem, power: float) -> tuple[Floats, Floats]:
    """Return the whole equations' answer where the model settles, and the model's own."""
    found = model.settle(power)
    close = model.reduced.basis @ found.state
    chosen = {kind: found.coefficients[kind] for kind in system.links}
    load = found.heat * model.spread(system.sources, system.source_slopes, close)
    for name, watts in found.losses.items():
        load = load + watts * system.losses[name]
    return system.steady(chosen, load, model.solid(found.state)), close


def _shares(coil: Coil) -> list[float]:
    """Return the share of the heat at 20 degC that each winding has.

    It is the share of the resistance's change that its warmth makes too, of parts in parallel to
    first order in how much warmer one is than the other.
    """
    ohms = np.array([one.resistance() for one in coil.each])
    weights = 1 / ohms if coil.connection == "parallel" else ohms
    found: list[float] = (weights / weights.sum()).tolist()
    return found
