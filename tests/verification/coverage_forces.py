"""How honest the uncertainty of axial forces is: random motors, whole and with parts apart.

``python -m tests.verification.coverage_forces --motors 60`` prints the table of
``studies/coverage.md``:
each motor's parts as they are glued, at one of four temperatures, and the same motor with parts
drawn at random lifted off the rest by a random distance, or off centre.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from geometries import InvalidInput, Region, Role
from motor.base.errors import MotorError
from motor.design.design import Design
from motor.field.field import Estimate
from motor.field.partition import envelope
from motor.field.solve import solve_field
from motor.results.approach import lifted, slit_cuts, split, way_out
from motor.results.centring import centring
from motor.results.forces import force_estimate, holder_of, motor_forces
from motor.results.motor_field import field_materials
from motor.results.motor_result import solve
from tests.random_motors import hard_designs, random_designs
from tests.verification.coverage import DEGREES, LOADED_REFERENCE, Sample, table

FAR = 4.0
"""Radius of the reference's open boundary over the motor's reach."""
TRIES = 20


def glued(design: Design) -> Iterator[Sample]:
    """Compare the force on each part of a whole motor with a finer reference."""
    held = holder_of(design.regions, design.geometry.gap)
    found, exact = (
        motor_forces(solve(design, **options).field, held).parts
        for options in ({}, {"sizing": LOADED_REFERENCE, "outer_ratio": FAR})
    )
    roles = {region.name: region.role for region in design.regions}
    for part, true in zip(found, exact, strict=True):
        if roles[part.region] is not Role.CONDUCTOR:
            yield _sample(f"force on a glued {roles[part.region]} part", part.force, true.force)


def _sample(what: str, found: Estimate, exact: Estimate) -> Sample:
    size = abs(exact.value)
    return Sample(what, found.uncertainty / size, abs(found.value - exact.value) / size)


def _parted(design: Design, rng: np.random.Generator) -> tuple[list[Region], list[Region], bool]:
    """Return parts drawn at random that can be lifted off some others, and which way."""
    names = [r.name for r in design.regions if r.role is not Role.CONDUCTOR]
    rings = [r.name for r in design.regions if r.role is Role.CONDUCTOR]
    for _ in range(TRIES):
        parts = list(rng.choice(names, rng.integers(1, len(names)), replace=False))
        missing = [n for n in names if n not in parts and rng.random() < 0.25]
        try:
            moving, standing = split(design.regions, parts, [*missing, *rings])
            return moving, standing, way_out(moving, standing)
        except InvalidInput:
            continue
    raise InvalidInput("parts", "come apart", design.name)


def apart(design: Design, rng: np.random.Generator) -> Iterator[Sample]:
    """Compare the force on parts lifted off the others with a finer reference."""
    moving, standing, outwards = _parted(design, rng)
    lift = envelope([*moving, *standing])[1] * 10 ** rng.uniform(-3.2, -0.3)
    lift *= 1 if outwards else -1
    regions = [*standing, *(lifted(r, lift) for r in moving)]
    here = {r.name for r in regions}
    steels, magnets = (
        {name: law for name, law in laws.items() if name in here}
        for laws in field_materials(design)
    )
    names = [r.name for r in moving]
    found = []
    for options in ({}, {"sizing": LOADED_REFERENCE, "outer_ratio": FAR}):
        cuts = slit_cuts(moving, standing, lift)
        field = solve_field(regions, design.geometry.gap, steels, magnets, cuts=cuts, **options)
        found.append(force_estimate(field, names))
    yield _sample("force on parts apart", *found)


def sideways(design: Design) -> Iterator[Sample]:
    """Compare the radial stiffness of what each joint lets slide with a finer reference."""
    found, exact = (
        {part.moving: part.stiffness for part in centring(solve(design, **options)).parts}
        for options in ({}, {"sizing": LOADED_REFERENCE, "outer_ratio": FAR})
    )
    for moving, stiffness in found.items():
        yield _sample("radial stiffness", stiffness, exact[moving])


def main() -> None:
    """Print the table for as many random motors as asked for, every other one of the edges."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=60)
    parser.add_argument("--seed", type=int, default=2026)
    options = parser.parse_args()
    half = (options.motors + 1) // 2
    pairs = zip(
        random_designs(options.seed, half), hard_designs(options.seed + 1, half), strict=True
    )
    motors = list(itertools.chain.from_iterable(pairs))[: options.motors]
    rng = np.random.default_rng(options.seed)
    found: list[Sample] = []
    for number, design in enumerate(motors):
        kelvin = DEGREES[number // 2 % len(DEGREES)] + 273.15
        warm = replace(design, temperature=kelvin)
        for samples in (glued(warm), apart(design, rng), sideways(design)):
            try:
                found += samples
            except (InvalidInput, MotorError) as error:
                print(f"left out: {error}")
    print(table(found))


if __name__ == "__main__":
    main()
