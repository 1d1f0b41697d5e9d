"""How honest the stated uncertainty is: random motors against a much finer reference.

Run ``python -m tests.verification.coverage --motors 200`` for the table of ``studies/coverage.md``.
The reference has about forty times smaller error and an outer boundary farther
away, so the boundary's error is part of what is covered.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from geometries import Role
from motor.design.design import Design
from motor.field.field import Estimate
from motor.field.meshing import Sizing
from motor.results.forces import holder_of, motor_forces
from motor.results.loaded import AT_COIL, loaded_coil
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import QUANTITIES
from tests.drawn_motors import drawn_designs
from tests.random_motors import hard_designs, random_designs

REFERENCE = Sizing(at_gap=0.07, away=0.035, growth=0.15, largest=0.03, layers=4)
REFERENCE_OUTER_RATIO = 4.0
LOADED_REFERENCE = Sizing(at_gap=0.15, away=0.07, growth=0.3, largest=0.06, layers=3)
LOADED_FINER = 1.6
"""How much finer the reference of the loaded coil is where the winding stands."""
LOADS = ((-0.6, 5e6), (0.0, 20e6), (0.6, 60e6))
"""Place over the coil's travel and current density in A/m^2, each motor one of them."""
BANDS = (0.3, 0.6, 1.0, 1.6)
"""Over the gap's depth, each motor one of them."""
DEGREES = (20.0, 80.0, 120.0, -20.0)
"""Temperatures in degC, two motors each in turn."""


@dataclass(frozen=True)
class Sample:
    """One quantity of one motor: stated uncertainty and true error, relative to the value."""

    quantity: str
    stated: float
    error: float


def quantities(result: MotorResult) -> dict[str, Estimate]:
    """Return every figure of a result that states an uncertainty, by its words.

    The usable stroke is left out: it is one of the others, or exact.
    """
    sizes = {
        "bl_peak_position": result.design.geometry.gap.depth,
        "bl_asymmetry_at_82_percent": 1.0,
        "bl_deviation_in_band": 1.0,
        "bl_asymmetry_in_band": 1.0,
        "best_rest_position": result.best_rest_position[1].value,
    }
    found = {}
    for figure in QUANTITIES:
        told = figure.uncertain and figure.name != "usable_stroke"
        estimate = figure.read(result) if told else None
        if estimate is not None and figure.name in sizes:
            found[f"{figure.words}, over its scale"] = _shifted(estimate, sizes[figure.name])
        elif estimate is not None and estimate.value:
            found[figure.words] = estimate
    for point in result.working_points:
        found[f"{point.region}: B of the working point"] = point.flux_density
        found[f"{point.region}: H of the working point"] = point.field
        found[f"{point.region}: permeance"] = point.permeance
    for load in result.steel_loads:
        found[f"{load.region}: peak flux density of steel"] = load.peak
        found[f"{load.region}: mean flux density of steel"] = load.mean
    held = holder_of(result.design.regions, result.design.geometry.gap)
    for part in motor_forces(result.field, held).parts:
        if result.field.region(part.region).role is not Role.CONDUCTOR:
            found[f"{part.region}: force on a part"] = part.force
    return {name: e for name, e in found.items() if math.isfinite(e.value)}


def _shifted(estimate: Estimate, size: float) -> Estimate:
    """Return what may be near 0 as 1 plus its share of a size, so that errors are of that size."""
    return Estimate(1 + estimate.value / size, estimate.uncertainty / size)


def samples(design: Design, sizing: Sizing = REFERENCE) -> Iterator[Sample]:
    """Solve a design at default accuracy and as a reference, and compare."""
    result = solve(design)
    reference = solve(design, sizing=sizing, outer_ratio=REFERENCE_OUTER_RATIO)
    true = quantities(reference)
    for name, estimate in quantities(result).items():
        if name in true:
            size = abs(true[name].value)
            error = abs(estimate.value - true[name].value)
            kind = name.rpartition(": ")[2]
            yield Sample(kind, estimate.uncertainty / size, error / size)
    curve, exact = result.bl_curve, reference.bl_curve
    size = exact.at_rest.value
    for x in np.linspace(0.9 * curve.x[0], 0.9 * curve.x[-1], 15):
        stated = float(np.interp(x, curve.x, curve.uncertainty))
        error = abs(float(curve(x)) - float(exact(x)))
        yield Sample("Bl(x) at 15 positions", stated / size, error / size)
    profile, exact_profile = result.gap_profile, reference.gap_profile
    size = exact_profile.mean.value
    for k in np.linspace(20, len(profile.z) - 20, 15).astype(int):
        error = abs(float(profile.at_coil[k] - exact_profile.at_coil[k]))
        stated = float(profile.uncertainty[k])
        yield Sample("gap flux density at 15 heights", stated / size, error / size)


def loaded_samples(design: Design, load: tuple[float, float]) -> Iterator[Sample]:
    """Compare force, Bl and reluctance force under current; see LOADS."""
    coil, result = design.coil, solve(design)
    reference = solve(design, sizing=LOADED_REFERENCE)
    where, density = load
    x = float(abs(where) * result.bl_curve.x[0 if where < 0 else -1])
    current = density * coil.wire.conductor_area
    found = loaded_coil(result.field, coil, x, current)
    exact = loaded_coil(reference.field, coil, x, current, at_coil=AT_COIL / LOADED_FINER)
    for name in ("force", "force_factor", "reluctance_force"):
        value, true = getattr(found, name), getattr(exact, name).value
        error = abs(value.value - true) / abs(true)
        words = f"{name.replace('_', ' ')} under current"
        yield Sample(words, value.uncertainty / abs(true), error)


def table(found: list[Sample]) -> str:
    """Return coverage and size of the stated uncertainty for each quantity, as Markdown."""
    lines = [
        "| quantity | cases | inside | median true error | median stated | stated / true |",
        "|---|---|---|---|---|---|",
    ]
    for name in dict.fromkeys(s.quantity for s in found):
        stated, error = (
            np.array([getattr(s, field) for s in found if s.quantity == name])
            for field in ("stated", "error")
        )
        lines.append(
            f"| {name} | {len(error)} | {np.mean(error <= stated):.1%} | {np.median(error):.1e} "
            f"| {np.median(stated):.1e} | {np.median(stated) / np.median(error):.1f} |"
        )
    return "\n".join(lines)


def main() -> None:
    """Print the table for as many random motors as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=200)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--hard", action="store_true", help="motors at the edges instead")
    parser.add_argument("--drawn", action="store_true", help="motors drawn as outlines instead")
    options = parser.parse_args()
    makers = {(True, False): hard_designs, (False, True): drawn_designs}
    make = makers.get((options.hard, options.drawn), random_designs)
    motors = make(options.seed, options.motors)
    found: list[Sample] = []
    for number, motor in enumerate(motors):
        kelvin = DEGREES[number // 2 % len(DEGREES)] + 273.15
        band = BANDS[number % len(BANDS)] * motor.geometry.gap.depth
        design = replace(motor, temperature=kelvin, stroke=replace(motor.stroke, band=band))
        found += samples(design)
        found += loaded_samples(design, LOADS[number % len(LOADS)])
    print(table(found))


if __name__ == "__main__":
    main()
