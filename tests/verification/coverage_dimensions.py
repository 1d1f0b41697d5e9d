"""How honest the page's band is: random motors with dimensions changed, by derivatives and solved.

``python -m tests.verification.coverage_dimensions --motors 24`` changes one to four dimensions of
every motor at once, each within its slider, and solves it finely.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

import motor
from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.results.motor_result import solve
from motor.study.differencing import sloped
from motor.study.expanding import second_order
from motor.study.parameters import TOGETHER, Draft
from tests.verification.coverage_derivatives import BL, all_kinds, arrays, spread
from tests.verification.coverage_derivatives_mesh import REFERENCE

CHECKED = (
    "bl_at_rest_Tm",
    "gap_flux_mWb",
    "stroke_82_mm",
    "bl_asymmetry_at_82_percent",
    "motor_constant_N2_per_W",
    "usable_stroke_mm",
)
CHANGES, MOST = 4, 4
"""Motors made of each, and dimensions changed at once."""


@dataclass(frozen=True)
class Sample:
    """One figure of one changed motor: error, band, and how far it moved."""

    figure: str
    error: float
    band: float
    moved: float
    value: float


def samples(design: Design, rng: np.random.Generator) -> Iterator[Sample]:
    """Change a design some times and compare."""
    result = motor.solve(design)
    found = second_order(result)
    before = {key: sloped()[key](result) or 0.0 for key in CHECKED}
    for _ in range(CHANGES):
        chosen = rng.choice(len(found.levers), min(1 + int(rng.integers(MOST)), len(found.levers)))
        levers = [found.levers[k] for k in np.unique(chosen)]
        changes = {
            lever.name: float(rng.uniform(lever.least - lever.value, lever.most - lever.value))
            for lever in levers
        }
        ends = {
            one: round(1e-3 * (lever.value + changes[lever.name]), 9)
            for lever in levers
            for one in lever.name.split(TOGETHER)
        }
        try:
            solved = solve(Draft(design, ends).design(), sizing=REFERENCE)
        except (InvalidInput, MotorError):
            continue
        there = found.at(changes)
        for key in CHECKED:
            exact = sloped()[key](solved)
            if exact is not None and np.isfinite(exact) and np.isfinite(there.figures[key]):
                error = abs(there.figures[key] - exact)
                moved = abs(exact - before[key])
                yield Sample(key, error, there.bands.get(key, 0.0), moved, abs(exact))
        at = spread(found.x)
        at = at[(found.x[at] >= solved.bl_curve.x[0]) & (found.x[at] <= solved.bl_curve.x[-1])]
        exact_bl = solved.bl_curve(found.x[at])
        for here, wanted, band in zip(there.bl[at], exact_bl, there.band[at], strict=True):
            off = abs(float(here - wanted))
            yield Sample(BL, off, float(band), 0.0, abs(float(wanted)))


def main() -> None:
    """Print one line a figure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=24)
    parser.add_argument("--seed", type=int, default=51)
    given = parser.parse_args()
    collected: dict[str, list[Sample]] = {}
    for k, design in enumerate(all_kinds(given.seed, given.motors)):
        for sample in samples(design, np.random.default_rng([given.seed, k])):
            collected.setdefault(sample.figure, []).append(sample)
    print("| figure | cases | inside | error | moved | band / true |")
    print("|---|---|---|---|---|---|")
    for key, members in collected.items():
        error, band, moved, value = arrays(members, "error", "band", "moved", "value")
        some = value > 0
        wrong, far = (np.median(part[some] / value[some]) for part in (error, moved))
        print(
            f"| {key} | {len(members)} | {np.mean(error <= band):.1%} | {wrong:.1e} | {far:.1e} | "
            f"{np.median(band / np.maximum(error, 1e-300)):.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
