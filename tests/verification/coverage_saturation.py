"""How honest the uncertainty is of what a coil's current does to Bl: random motors.

Run ``python -m tests.verification.coverage_saturation --motors 24 --seed 9`` for the table
of ``studies/coverage.md``.  The law on the coarser mesh against the map of forces on meshes of its
own, at rest, both ends of travel, and a place and a current drawn at random; relative to Bl.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

import numpy as np
from scipy.interpolate import CubicSpline

from motor.design.design import Design
from motor.results.coil_map import coil_map
from motor.results.motor_result import solve
from motor.results.saturation import Saturation, saturation
from tests.random_motors import hard_designs, random_designs
from tests.verification.coverage import Sample, table

ROUNDS = 200
"""Of the current that makes the flux as it is without saturation."""


def odd_force(law: Saturation, x: float, current: float) -> float:
    """Return what the law takes off half the difference of both signs' forces, N per A."""
    inductance = CubicSpline(law.position, law.inductance)
    half = 0.0
    for i in (current, -current):
        s = i
        for _ in range(ROUNDS):
            s = i + float(law.at(np.array(x), np.array(s)).by_s) / float(inductance(x))
        n = s - i
        half += float(law.at(np.array(x), np.array(s)).by_x) / i / 2
        half -= n**2 / 2 * float(inductance(x, 1)) / i / 2
    return half


def samples(design: Design, rng: np.random.Generator) -> Iterator[Sample]:
    """Compare a design's law with its map."""
    result = solve(design)
    law = saturation(result)
    low, high = law.position[[0, -1]]
    x = np.array([low, 0.0, high])
    value, doubt = law.change_of_bl(x)
    true = coil_map(result, x, [law.largest]).saturation[:, -1]
    for name, k in (("inner end", 0), ("rest", 1), ("outer end", 2)):
        yield Sample(f"change of Bl, {name}", float(doubt[k]), float(abs(value[k] - true[k])))
    place, current = rng.uniform(low, high), rng.uniform(0.3, 1.0) * law.largest
    there = coil_map(result, [place], [current])
    error = abs(odd_force(law, place, current) / there.bl[0] - there.saturation[0, 0])
    yield Sample("change by the driver's law", law.law_uncertainty, float(error))


def main() -> None:
    """Print the table for as many random motors as asked for, plain and of the edges in turn."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=24)
    parser.add_argument("--seed", type=int, default=9)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    kinds = (
        random_designs(options.seed, options.motors),
        hard_designs(options.seed + 1, options.motors),
    )
    found: list[Sample] = []
    for k in range(options.motors):
        found += samples(next(kinds[k % 2]), rng)
    print(table(sorted(found, key=lambda s: s.quantity)))


if __name__ == "__main__":
    main()
