"""How honest the material uncertainty of steel beyond its table is: tables cut short.

Random motors are solved with a built-in steel, then with the same table cut at one of its rows
and no saturation value (or, with ``--known``, with it); the change of
Bl at rest is what the cut table did not tell.  Run
``python -m tests.verification.coverage_tables --motors 40``.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Iterator

import numpy as np

from motor.design.design import Design
from motor.materials import TabulatedSteel, steel_named, steel_names
from motor.results.beyond_table import material_uncertainty, other_ends
from motor.results.motor_result import MotorResult, solve
from tests.random_motors import random_designs

LEAST_ROWS = 5
"""That are left of a table."""


def with_steel(design: Design, steel: TabulatedSteel) -> Design:
    """Return the design with all its steel parts of one steel."""
    return design.replace(materials=dataclasses.replace(design.materials, steel=steel))


def cut(steel: TabulatedSteel, rows: int, known: bool = False) -> TabulatedSteel:
    """Return a steel whose table ends after so many rows, its saturation known or not."""
    return dataclasses.replace(
        steel,
        name=f"{steel.name}-cut",
        flux_density=steel.flux_density[:rows],
        field=steel.field[:rows],
        saturation=steel.saturation if known else None,
    )


def at_rest(result: MotorResult) -> float:
    """Return Bl at rest in T m."""
    return result.bl_curve.at_rest.value


def samples(
    design: Design, rng: np.random.Generator, steels: list[str], known: bool
) -> Iterator[tuple[float, float]]:
    """Yield stated uncertainty and true error of Bl at rest, relative, for each steel cut once."""
    near: MotorResult | None = None
    for name in steels:
        steel = steel_named(name)
        true = near = solve(with_steel(design, steel), uncertainty=False, warm_start=near)
        peak = max(load.peak.value for load in true.steel_loads)
        b = np.asarray(steel.flux_density)
        # not a row below the knee, where no one ends a table
        last = np.flatnonzero((b < peak) & (b > 0.6 * b[-1]))
        last = last[last >= LEAST_ROWS]
        if not len(last):
            continue
        short = cut(steel, int(rng.choice(last)) + 1, known)
        result = solve(with_steel(design, short), uncertainty=False, warm_start=true)
        ends = [
            solve(end, uncertainty=False, warm_start=result)
            for end in other_ends(result.design, result.beyond_tables)
        ]
        stated = material_uncertainty(at_rest(result), [at_rest(end) for end in ends])
        bl = at_rest(true)
        yield stated / bl, abs(at_rest(result) - bl) / bl


def main() -> None:
    """Print how many cut tables are inside."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=40)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--known", action="store_true", help="the saturation stays known")
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    found = np.array(
        [
            sample
            for design in random_designs(options.seed, options.motors)
            for sample in samples(design, rng, steel_names(), options.known)
        ]
    )
    stated, error = found.T
    print(
        f"{len(error)} cut tables, {np.mean(error <= stated):.1%} inside; median true error "
        f"{np.median(error):.1e}, stated {np.median(stated):.1e}, "
        f"stated / true {np.median(stated) / np.median(error):.1f}"
    )


if __name__ == "__main__":
    main()
