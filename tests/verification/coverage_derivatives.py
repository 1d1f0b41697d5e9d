"""How honest the uncertainty of derivatives is: random motors against finely solved neighbours.

``python -m tests.verification.coverage_derivatives --motors 60`` differentiates every motor on its
default mesh and takes central differences of neighbours solved as accurately as can be asked for,
for dimensions drawn at random, over two steps, so that their third derivative drops out; a quarter
of what it came to is a doubt.  Cases in which that and the neighbours' own stated uncertainties
come to more than half of what is to be checked are left out and counted.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

import motor
from motor.base.arrays import Floats, Ints
from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.field.field import Estimate
from motor.field.solve import FINEST
from motor.results.gap import along_gap
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities
from motor.study.differencing import sloped
from motor.study.parameters import TOGETHER, Draft
from tests.drawn_motors import drawn_designs
from tests.random_motors import hard_designs, random_designs

STEPS = (-2, -1, 1, 2)
STEP = 0.003
"""Step to either side over the dimension."""
WEIGHTS = np.array([1.0, -8.0, 8.0, -1.0]) / 12
"""Of figures at STEPS in their derivative (M. Abramowitz and I. A. Stegun, Handbook of Mathematical
Functions, 1964, table 25.2; from memory)."""
BENT = np.array([-1.0, 2.0, -2.0, 1.0]) / 48
"""Of them in a quarter of what the third derivative does to the difference over the one step."""
POINTS = 15
BL, GAP = f"Bl(x) at {POINTS} positions", f"gap flux density at {POINTS} heights"
CHECKED = (
    "bl_at_rest_Tm",
    "stroke_82_mm",
    "gap_flux_mWb",
    "magnet_flux_mWb",
    "motor_constant_N2_per_W",
    "bl_asymmetry_at_82_percent",
    "peak_steel_flux_density_T",
    "stray_field_at_100_mm_uT",
    "utilisation",
    "demagnetisation_margin_kA_per_m",
    "peak_gap_flux_density_T",
    "mean_gap_flux_density_T",
    "bl_peak_Tm",
    "stroke_70_mm",
    "leakage_factor",
    "leakage_factor_to_coil",
    "other_flux_mWb",
)
"""Keys of ``summary.json``."""


def _estimates(result: MotorResult) -> dict[str, Estimate]:
    """Return the figures to be checked in their key's unit; of the asymmetry Bl's uncertainty."""
    bl, figures = result.bl_curve.at_rest, sloped()
    found = {}
    for quantity in motor_quantities():
        if quantity.key in CHECKED:
            value = figures[quantity.key](result)
            doubt = quantity.reading(result)[1]
            if quantity.name == "bl_asymmetry_at_82_percent":
                doubt = bl.uncertainty / bl.value
            elif quantity.name == "peak_steel_flux_density":
                doubt = 0.0  # its own is a floor that both neighbours share
            found[quantity.key] = Estimate(math.nan if value is None else value, doubt)
    return found


def _curves(result: MotorResult, like: MotorResult) -> dict[str, tuple[Floats, Floats]]:
    """Return Bl(x) and B_r(z) of a neighbour and what they are unsure by, where ``like``'s are."""
    line, curve, own = like.gap_profile, result.bl_curve, result.gap_profile
    across = along_gap(result.field.fine, result.design.geometry.gap, line)
    x = like.bl_curve.x[spread(like.bl_curve.x)]
    at = spread(line.z)
    return {
        BL: (curve(x), np.interp(x, curve.x, curve.uncertainty)),
        GAP: (across[at], np.interp(line.z[at], own.z, own.uncertainty)),
    }


def spread(places: Floats) -> Ints:
    """Return indices of POINTS places, evenly spread, but not the ends."""
    return np.linspace(0, len(places) - 1, POINTS + 2).round().astype(int)[1:-1]


@dataclass(frozen=True)
class Sample:
    """One derivative: error, stated uncertainty, the neighbours' doubt, value, largest of its kind.

    All are per relative change of the dimension, so that thin and thick parts count alike.
    """

    figure: str
    error: float
    stated: float
    doubt: float
    value: float
    largest: float


def sizes_of(design: Design, names: Sequence[str]) -> dict[str, float]:
    """Return each parameter's value in its unit; 1 where it is 0."""
    found = {}
    for name in names:
        value = abs(float(Draft(design).get(name.partition(TOGETHER)[0])))
        length = name.startswith(("geometry.", "coil."))
        found[name] = (1e3 * value if length else value) or 1.0
    return found


def arrays(members: Sequence[Any], *parts: str) -> list[Floats]:
    """Return some parts of all samples of a figure."""
    return [np.array([getattr(member, part) for member in members]) for part in parts]


def samples(design: Design, rng: np.random.Generator, dimensions: int) -> Iterator[Sample]:
    """Differentiate a design and compare with its neighbours."""
    result = motor.solve(design)
    found = motor.derivatives(result)
    names = sorted({r.parameter for r in found.rows if r.parameter.startswith("geometry.")})
    size = sizes_of(design, names)
    rows = {(r.figure, r.parameter): r for r in found.rows}
    keys = list(_estimates(result))
    largest = {
        key: max(
            (abs(rows[key, n].derivative) * size[n] for n in names if (key, n) in rows), default=0.0
        )
        for key in keys
    }
    curves = {BL: (found.bl, spread(found.x)), GAP: (found.gap, spread(found.z))}
    for name in rng.choice(names, min(dimensions, len(names)), replace=False):
        step = STEP * size[name]
        try:
            beside = [
                motor.solve(
                    Draft(
                        design,
                        dict.fromkeys(name.split(TOGETHER), 1e-3 * (size[name] + k * step)),
                    ).design(),
                    accuracy=1.0001 * FINEST,
                )
                for k in STEPS
            ]
        except (InvalidInput, MotorError):
            continue
        lines = [_curves(one, result) for one in beside]
        for curve, (slopes, at) in curves.items():
            slope, stated = slopes[name][:, at]
            sizes = [size[n] * float(np.abs(s[0]).max()) for n, s in slopes.items() if n in size]
            true, doubt = _difference(*zip(*(line[curve] for line in lines), strict=True), step)
            for parts in zip(np.abs(slope - true), stated, doubt, np.abs(true), strict=True):
                yield Sample(curve, *(size[name] * float(part) for part in parts), max(sizes))
        figures = [_estimates(one) for one in beside]
        for key in keys:
            known = [one[key] for one in figures]
            true, doubt = _difference(
                [one.value for one in known], [one.uncertainty for one in known], step
            )
            if (key, name) in rows and np.isfinite(true):
                row, scale = rows[key, name], size[name]
                yield Sample(
                    key,
                    scale * abs(row.derivative - float(true)),
                    scale * row.uncertainty,
                    scale * float(doubt),
                    scale * abs(float(true)),
                    largest[key],
                )


def _difference(values: Any, doubts: Any, step: float) -> tuple[Floats, Floats]:
    """Return the derivative of values at STEPS, and what is open of it."""
    values, doubts = np.array(values), np.array(doubts)
    noise = np.sqrt(np.tensordot(WEIGHTS**2, doubts**2, 1))
    bent = np.tensordot(BENT, values, 1)
    return np.tensordot(WEIGHTS, values, 1) / step, np.hypot(noise, bent) / step


def all_kinds(seed: int, count: int) -> Iterator[Design]:
    """Yield motors of all kinds: of six, three plain, two of the edges, one drawn as outlines."""
    plain, edge, drawn = (
        make(seed + k, count)
        for k, make in enumerate((random_designs, hard_designs, drawn_designs))
    )
    for k in range(count):
        yield next((plain, plain, edge, drawn, plain, edge)[k % 6])


def main() -> None:
    """Print one line a figure."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--motors", type=int, default=60)
    parser.add_argument("--dimensions", type=int, default=2)
    parser.add_argument("--seed", type=int, default=777)
    given = parser.parse_args()
    collected: dict[str, list[Sample]] = {}
    for k, design in enumerate(all_kinds(given.seed, given.motors)):
        rng = np.random.default_rng([given.seed, k])
        for sample in samples(design, rng, given.dimensions):
            collected.setdefault(sample.figure, []).append(sample)
    print("| figure | cases, left out | inside | error | error over the largest | stated / true |")
    print("|---|---|---|---|---|---|")
    for key, members in collected.items():
        clear = [m for m in members if m.doubt <= m.stated / 2]
        error, stated, value = arrays(clear, "error", "stated", "value")
        every = np.median([m.error / m.largest for m in members])
        print(
            f"| {key} | {len(clear)}, {len(members) - len(clear)} | "
            f"{np.mean(error <= stated):.1%} | {np.median(error / value):.1e} | {every:.1e} | "
            f"{np.median(stated / np.maximum(error, 1e-300)):.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
