"""How honest the uncertainty of derivatives is: random motors against the same on finer meshes.

``python -m tests.verification.coverage_derivatives_mesh --motors 60`` differentiates motors of all
kinds by parameters drawn at random, on their default mesh and on one of about a tenth of the
error; with ``--inductance`` the impedance of motors of all steels, bare rods among them, at rest
and both ends of the travel, the finer mesh finer at surfaces and coil too.  That derivatives are
those of motors solved anew, ``coverage_derivatives`` and tests look at.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator, Sequence

import numpy as np

import motor
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.field.meshing import Sizing
from motor.field.motion import NoSmoothMotionError
from motor.results.motor_result import MotorResult, solve
from motor.study.derivatives import every_parameter
from motor.study.differencing import sloped
from motor.study.inductance_slopes import SmallFields
from motor.study.neighbours import RINGS, asked, prepared
from tests.verification.coverage_derivatives import (
    BL,
    GAP,
    Sample,
    all_kinds,
    arrays,
    sizes_of,
    spread,
)
from tests.verification.coverage_impedance import FINER, hard_designs
from tests.verification.coverage_impedance import REFERENCE as IMPEDANCE_REFERENCE

REFERENCE = Sizing(at_gap=0.1, away=0.05, growth=0.2, largest=0.04, layers=4)
FREQUENCIES = (200.0, 1000.0, 3000.0)
FIELD = ("geometry.", "factors.", "temperature")
COIL = ("coil.winding_height", "coil.inner_diameter", "coil.rest_position")


def _drawn(design: Design, rng: np.random.Generator, count: int, coil: Sequence[str]) -> list[str]:
    """Return parameters drawn at random: of the field, and one of the coil."""
    field = [n for n in every_parameter(design) if n.startswith(FIELD) and RINGS not in n]
    return [*rng.permutation(field)[:count], str(rng.choice(coil))]


def static_samples(design: Design, rng: np.random.Generator, count: int) -> Iterator[Sample]:
    """Compare figures and curves."""
    names = _drawn(design, rng, count, COIL)
    found = motor.derivatives(motor.solve(design), names)
    true = motor.derivatives(solve(design, sizing=REFERENCE), names)
    sizes, exact = sizes_of(design, names), {(r.figure, r.parameter): r for r in true.rows}
    rows = [r for r in found.rows if r.figure in sloped("field")]
    largest: dict[str, float] = {}
    for row in rows:
        size = abs(row.derivative) * sizes[row.parameter]
        largest[row.figure] = max(largest.get(row.figure, 0.0), size)
    for row in rows:
        finely = exact.get((row.figure, row.parameter))
        if finely is not None and (finely.derivative or row.derivative):
            error = abs(row.derivative - finely.derivative)
            parts = (error, row.uncertainty, 0.0, abs(finely.derivative))
            scaled = [sizes[row.parameter] * part for part in parts]
            yield Sample(row.figure, *scaled, largest[row.figure])
    for curve, mine, finely in ((BL, found.bl, true.bl), (GAP, found.gap, true.gap)):
        for name in mine.keys() & finely.keys():
            at = spread(mine[name][0])
            (value, stated), wanted = sizes[name] * mine[name][:, at], finely[name][0, at]
            error, most = np.abs(value - sizes[name] * wanted), float(np.abs(value).max())
            if most:
                for off, told, exactly in zip(
                    error, stated, np.abs(sizes[name] * wanted), strict=True
                ):
                    yield Sample(curve, float(off), float(told), 0.0, float(exactly), most)


def _impedances(
    result: MotorResult, names: Sequence[str], at: Sequence[float], finer: float = 1.0
) -> dict[str, tuple[Floats, Floats]]:
    """Return the derivatives of inductance and resistance by some parameters, where there are."""
    levels, mover = prepared(result, fine_only=finer > 1.0)
    small = SmallFields(result, levels, FREQUENCIES, at, finer=finer)
    found = {}
    for name in names:
        try:
            change, shift = asked(result, name, mover)
            found[name] = small.slopes(change, shift)
        except (InvalidInput, NoSmoothMotionError):
            continue
    return found


def impedance_samples(design: Design, rng: np.random.Generator, count: int) -> Iterator[Sample]:
    """Compare L and R at FREQUENCIES, at rest and both ends of the travel."""
    result = solve(design)
    low, high = result.bl_curve.x[[0, -1]]
    at = [low, 0.0, high]
    names = _drawn(design, rng, count, COIL[:2])
    found, sizes = _impedances(result, names, at), sizes_of(design, names)
    true = _impedances(solve(design, sizing=IMPEDANCE_REFERENCE), list(found), at, FINER)
    for what, k in (("L", 0), ("R", 1)):
        for name in found.keys() & true.keys():
            (value, stated), finely = sizes[name] * found[name][k], true[name][k][0]
            for i, j in itertools.product(range(len(FREQUENCIES)), range(len(at))):
                exact = sizes[name] * float(finely[i, j])
                error, most = abs(value[i, j] - exact), float(np.abs(value[i]).max())
                if most:
                    figure = f"{what} at {FREQUENCIES[i]:g} Hz"
                    yield Sample(figure, error, float(stated[i, j]), 0.0, abs(exact), most)


def main() -> None:
    """Print one line a figure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=60)
    parser.add_argument("--parameters", type=int, default=5)
    parser.add_argument("--seed", type=int, default=777)
    parser.add_argument("--inductance", action="store_true")
    given = parser.parse_args()
    collected: dict[str, list[Sample]] = {}
    kinds, samples = (all_kinds, static_samples)
    if given.inductance:
        kinds, samples = (hard_designs, impedance_samples)
    for k, design in enumerate(kinds(given.seed, given.motors)):
        rng = np.random.default_rng([given.seed, k])
        try:
            for sample in samples(design, rng, given.parameters):
                collected.setdefault(sample.figure, []).append(sample)
        except MotorError as error:
            print(f"left out: {error}", flush=True)
    print("| figure | cases | inside | median error | over the largest | stated / true |")
    print("|---|---|---|---|---|---|")
    for key, members in collected.items():
        error, stated, value, largest = arrays(members, "error", "stated", "value", "largest")
        known = stated[np.isfinite(stated)]
        if len(known) < len(stated):
            print(f"{key}: {len(stated) - len(known)} state none", flush=True)
        relative = np.median(error / np.maximum(value, 1e-300))
        print(
            f"| {key} | {len(members)} | {np.mean(~(error > stated)):.1%} | {relative:.1e} | "
            f"{np.median(error / largest):.1e} | "
            f"{np.nanmedian(stated / np.maximum(error, 1e-300)):.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
