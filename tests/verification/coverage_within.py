"""How far a tone's distortion stays below what is said to be the most: random drivers.

Run ``python -m tests.verification.coverage_within --motors 8 --seed 71`` for the rows of
``studies/coverage.md``.  Random motors, plain and of the edges in turn, of every steel in turn, as
drivers that resonate at 45 Hz, at a tone drawn at random from 50 to 400 Hz and a current density of
3 to 30 A/mm2: the whole field in time (half a minute to some minutes each) beside what the driver's
model tells.  Motors too small or large for a driver are left out.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Iterator

import numpy as np

from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.design.moving_parts import MovingParts
from motor.driver.field_check import check_driver
from motor.driver.run import steel_band, system_of
from motor.materials import steel_names
from motor.results.motor_result import solve
from tests.random_motors import hard_designs, random_designs

STEPS = 40
RESONANCE = 45.0


def drivers(seed: int, count: int) -> Iterator[Design]:
    """Yield random motors with moving parts."""
    names = np.random.default_rng(seed).permutation(steel_names())
    plain, edges = random_designs(seed, count), hard_designs(seed + 1, count)
    for k in range(count):
        design = next(edges if k % 2 else plain)
        mass = 3 * (design.coil.mass_with_enamel + design.coil.former_mass)
        rate = 2 * np.pi * RESONANCE
        materials = dataclasses.replace(design.materials, steel=str(names[k % len(names)]))
        try:
            parts = MovingParts(
                total_mass=mass,
                stiffness=rate**2 * mass,
                mechanical_resistance=rate * mass / 4,
                area=np.pi * (2 * design.coil.mean_radius) ** 2,
            )
        except InvalidInput:
            continue
        yield design.replace(materials=materials, moving_parts=parts)


def row(design: Design, rng: np.random.Generator) -> str:
    """Return a line on one driver under one tone."""
    frequency = float(np.exp(rng.uniform(*np.log([50.0, 400.0]))))
    density = float(np.exp(rng.uniform(*np.log([3e6, 30e6]))))
    coil = design.coil
    volts = density * coil.wire.conductor_area * coil.resistance() / np.sqrt(2)
    result = solve(design)
    (found,) = check_driver(result, [(frequency, volts)], steps=STEPS)
    bands = steel_band(system_of(result, compute=True), volts, [frequency], result=result)
    if not bands:
        raise MotorError("no steady motion")
    (band,) = bands
    inside = "inside" if found.field.thd <= band.most else "OUTSIDE"
    within = float("nan") if band.within is None else band.within
    return (
        f"| {design.geometry.kind}, {design.materials.steel}, {frequency:.0f} Hz, {volts:.3g} V | "
        f"{100 * found.field.thd:.3g} | {100 * within:.3g} | {100 * band.thd:.3g} | "
        f"{100 * band.most:.3g} | {inside} | {1e3 * found.field.peak:.2g} mm, "
        f"{found.periods} periods, {found.change:.1e}, {found.imbalance:.0e} |"
    )


def main() -> None:
    """Print one row a driver: distortion of the field, within, of the model, and the most, in %."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=8)
    parser.add_argument("--seed", type=int, default=71)
    options = parser.parse_args()
    rng = np.random.default_rng([options.seed, 2])
    for design in drivers(options.seed, options.motors):
        try:
            print(row(design, rng), flush=True)
        except (InvalidInput, MotorError) as reason:
            print(f"| {design.geometry.kind}: {reason} |", flush=True)


if __name__ == "__main__":
    main()
