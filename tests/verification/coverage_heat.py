"""How honest the numerical uncertainty of temperatures is: random motors on far finer meshes.

Each takes the programme that brings its hottest turn to about 140 degC; the reference cuts every
triangle of the finer mesh in sixteen and divides the winding in 96.  Run
``python -m tests.verification.coverage_heat --motors 40``.
"""

from __future__ import annotations

import argparse

import numpy as np

from motor.results.heat import heat
from motor.results.heat_limits import allowed, hottest_of, mean_of
from motor.results.heat_model import heat_model
from motor.results.motor_result import solve
from tests.random_motors import random_designs

FIGURES = ("coil", "hottest turn", "magnet", "largest power")


def main() -> None:
    """Print how many figures of random motors are inside their stated uncertainty."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1811)
    options = parser.parse_args()
    rows: dict[str, list[tuple[float, float]]] = {name: [] for name in FIGURES}
    for design in random_designs(options.seed, options.motors):
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
        )
        settled = model.settle(warmth.power)
        magnet = warmth.warmest
        first = warmth.limits[0]
        largest = allowed(model, first.name, first.limit, settled, warmth.power)
        pairs = {
            "coil": (warmth.coil, mean_of(model, settled, "coil-winding")),
            "hottest turn": (
                warmth.hottest("coil-winding"),
                hottest_of(model, settled, "coil-winding"),
            ),
            "magnet": (warmth.magnet, mean_of(model, settled, magnet)),
            "largest power": (warmth.largest_power[0], largest),
        }
        for name, (found, true) in pairs.items():
            size = found.value if name == "largest power" else found.value - model.ambient
            rows[name].append((found.uncertainty / size, abs(found.value - true) / size))
        worst = max(error / stated for stated, error in (r[-1] for r in rows.values()))
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
