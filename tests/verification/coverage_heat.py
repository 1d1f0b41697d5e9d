"""How honest the numerical uncertainty of temperatures is: random motors on far finer meshes.

Each takes the programme that brings its hottest turn to about 140 degC, or half an hour of it,
every other one with eddy currents, of noise and of a sine in turn; the reference cuts every
triangle of the finer mesh in sixteen, divides the winding in 96 and resolves eddy currents in a
quarter of the skin with twice the modes.  Run
``python -m tests.verification.coverage_heat --motors 40``.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Mapping
from unittest import mock

import numpy as np

import motor.results.eddy_heat as eddy_module
from motor.base.arrays import Floats
from motor.field.heat_mesh import HeatMesh
from motor.field.meshing import MotorMesh
from motor.results.eddy_heat import EddyHeat, eddy_heat
from motor.results.heat import Warmth, heat
from motor.results.heat_limits import allowed, hottest_of, mean_of
from motor.results.heat_model import HeatModel, heat_model
from motor.results.heat_time import HeatHistory, programme_of, warm_up
from motor.results.motor_result import MotorResult, solve
from motor.results.spectrum import programme_spectrum
from tests.random_motors import random_designs

FIGURES = (
    "coil",
    "hottest turn",
    "magnet",
    "largest power",
    "heat in parts",
    "coil after half an hour",
)


class Refined(EddyHeat):
    """Heat of eddy currents from one mesh, on a mesh cut from it."""

    def shares(self, motor: MotorMesh, mesh: HeatMesh) -> Mapping[str, Floats]:
        """Return each part's heat by where its triangles' middles lie."""
        grid = mesh.mesh
        middle = grid.p[:, grid.t].mean(axis=1)
        corners = grid.p[:, grid.t]
        u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        volume = np.abs(u[0] * v[1] - u[1] * v[0]) * middle[0]
        there, _ = self.mesh.locate(*middle)
        found = {}
        for name in self.parts:
            here = mesh.triangles_of(name)
            whole = np.bincount(there[here], volume[here], len(self.density))
            share = np.zeros(len(mesh.label))
            share[here] = self.density[there[here]] * volume[here] / whole[there[here]]
            found[name] = share
        return found


def reference_eddy(result: MotorResult, warmth: Warmth) -> EddyHeat:
    """Return the heat of eddy currents, better resolved."""
    rules = result.design.heat
    level = result.field.fine
    spectrum = programme_spectrum(rules.lowest_frequency, rules.highest_frequency)
    rates = tuple(np.geomspace(eddy_module.RATES[0], eddy_module.RATES[-1], 16).tolist())
    with (
        mock.patch.object(eddy_module, "SKIN", 0.7),
        mock.patch.object(eddy_module, "NEAR_COIL", 0.5),
        mock.patch.object(eddy_module, "RATES", rates),
    ):
        kelvin = {r.name: warmth.mean(r.name).value for r in result.design.regions}
        parts = dataclasses.replace(result.design.materials, temperatures=kelvin)
        warm = dataclasses.replace(result, design=result.design.replace(materials=parts))
        found = eddy_heat(warm, level, spectrum, warmth.displacement)
    refined = Refined(**{f.name: getattr(found, f.name) for f in dataclasses.fields(found)})
    object.__setattr__(refined, "mesh", level.system.mesh)
    return refined


def played(warmth: Warmth, model: HeatModel) -> HeatHistory:
    """Return the design's programme on the reference."""
    rules = warmth.design.heat
    times, shares = programme_of(rules).steps(rules.duration or 1800.0)
    return warm_up(model, warmth.warmest, warmth.power * shares, times)


def main() -> None:
    """Print how many figures of random motors are inside their stated uncertainty."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1811)
    options = parser.parse_args()
    rows: dict[str, list[tuple[float, float]]] = {name: [] for name in FIGURES}
    for k, design in enumerate(random_designs(options.seed, options.motors)):
        words = "included" if k % 2 else "left out"
        rules = dataclasses.replace(design.heat, eddy_currents=words, duration=1800.0)
        if k % 4 == 3:
            rules = dataclasses.replace(rules, lowest_frequency=1e3, highest_frequency=1e3)
        design = design.replace(heat=rules)
        result = solve(design)
        start = heat(result, 2.0).largest_power[0].value
        warmth = heat(result, 0.85 * start)
        mesh = result.field.fine.system.mesh.halved().halved()
        model = heat_model(
            design,
            mesh,
            divisions=96,
            displacement=warmth.displacement,
            powers=(warmth.power,),
            eddy=reference_eddy(result, warmth) if k % 2 else None,
        )
        settled = model.settle(warmth.power)
        magnet = warmth.warmest
        first = warmth.limits[0]
        largest = allowed(model, first.name, first.limit, settled, warmth.power)
        pairs = {
            "coil": (warmth.coil, mean_of(model, settled.state, "coil-winding")),
            "hottest turn": (
                warmth.hottest("coil-winding"),
                hottest_of(model, settled.state, "coil-winding"),
            ),
            "magnet": (warmth.magnet, mean_of(model, settled.state, magnet)),
            "largest power": (warmth.largest_power[0], largest),
            "coil after half an hour": (
                warmth.at_end("coil-winding"),
                float(played(warmth, model).coil.max()),
            ),
        }
        if k % 2:
            pairs["heat in parts"] = (warmth.losses, sum(settled.losses.values()))
        for name, (found, true) in pairs.items():
            absolute = name in ("largest power", "heat in parts")
            size = found.value if absolute else found.value - model.ambient
            rows[name].append((found.uncertainty / size, abs(found.value - true) / size))
        worst = max(error / stated for stated, error in (r[-1] for r in rows.values() if r))
        print(f"{design.geometry.kind} {warmth.power:.3g} W, worst error over stated {worst:.2f}")
    for name, found in rows.items():
        stated, error = np.array(found).T
        inside = (error <= stated).mean()
        print(
            f"{name}: {len(found)} cases, {inside:.1%} inside, median error "
            f"{np.median(error):.1e} of the rise, stated over true "
            f"{np.median(stated) / np.median(error):.1f}"
        )


if __name__ == "__main__":
    main()
