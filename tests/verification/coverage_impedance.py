"""How honest the impedance's uncertainty is: random motors against a much finer reference.

Run ``python -m tests.verification.coverage_impedance --motors 16 --seed 5`` for the table
of ``studies/coverage.md``.  Plain motors, those at the edges (``random_motors.hard_designs``) and
bare rods in turn, of every steel in turn, pure iron among them, whose skin at 3 kHz is 0.03 mm
deep.  The reference starts from a far finer solved field, has layers at surfaces of half the
thickness and is twice as fine where the winding stands.
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
from collections.abc import Iterator

import numpy as np

from motor.design.design import Design
from motor.field.eddy_currents import SKIN
from motor.field.field import Estimate
from motor.field.meshing import Sizing
from motor.materials import steel_names
from motor.results.at_coil import AT_COIL
from motor.results.coil_figures import InductanceFigures
from motor.results.impedance import BlockedImpedance, blocked_impedance
from motor.results.motor_result import MotorResult, solve
from tests.random_motors import hard_designs as hard_motors
from tests.random_motors import random_designs
from tests.rod_motor import random_rod
from tests.verification.coverage import Sample, table

REFERENCE = Sizing(at_gap=0.1, away=0.03, growth=0.3, largest=0.04, layers=3)
FINER = 2.0
FREQUENCIES = (200.0, 1000.0, 3000.0, 10_000.0)
RODS = 4
"""One motor of so many is a rod."""


def hard_designs(seed: int, count: int) -> Iterator[Design]:
    """Yield random motors, plain and hard in turn, and bare rods, of every steel in turn."""
    rng = np.random.default_rng(seed)
    plain, edges = random_designs(seed, count), hard_motors(seed + 1, count)
    names = rng.permutation(steel_names())
    for k in range(count):
        steel = str(names[k % len(names)])
        if k % RODS == RODS - 1:
            yield random_rod(rng, steel)
        else:
            design = next(edges if k % 2 else plain)
            yield design.replace(materials=dataclasses.replace(design.materials, steel=steel))


def samples(design: Design) -> Iterator[Sample]:
    """Compute a design's impedance at default accuracy and as a reference, and compare."""
    result = solve(design)
    low, high = result.bl_curve.x[[0, -1]]
    at = [low, 0.0, high]
    found = blocked_impedance(result, at, FREQUENCIES)
    finer = solve(design, sizing=REFERENCE)
    exact = blocked_impedance(finer, at, FREQUENCIES, skin=SKIN / FINER, at_coil=AT_COIL / FINER)
    for what, name in (("inductance", "inductance"), ("eddy resistance", "eddy_resistance")):
        value, true = getattr(found, name), getattr(exact, name)
        stated = getattr(found, f"{name}_uncertainty")
        for i, frequency in enumerate(FREQUENCIES):
            for k in range(len(at)):
                size = abs(true[i, k])
                error = abs(value[i, k] - true[i, k])
                yield Sample(
                    f"{what} at {frequency:g} Hz", float(stated[i, k] / size), float(error / size)
                )
    for i, frequency in enumerate(FREQUENCIES):
        lag, true_lag = (_lag(one, i, result) for one in (found, exact))
        error = abs(lag.value - true_lag.value)
        yield Sample(f"lag of the force at {frequency:g} Hz, rad", lag.uncertainty, error)


def _lag(found: BlockedImpedance, i: int, result: MotorResult) -> Estimate:
    """Return the lag of the reluctance force at one frequency, its mean between both ends."""
    parts = {
        name: getattr(found, name)[[i]]
        for name in (
            "frequency",
            "inductance",
            "inductance_uncertainty",
            "eddy_resistance",
            "eddy_resistance_uncertainty",
        )
    }
    one = dataclasses.replace(found, **parts)
    return InductanceFigures(one, result.bl_curve.at_rest).force_lag


def main() -> None:
    """Print the table for as many random motors as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=16)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    found = []
    for design in hard_designs(options.seed, options.motors):
        now = list(samples(design))
        found += now
        worst = max(now, key=lambda s: s.error / s.stated)
        print(
            f"{design.geometry.kind}, {design.materials.steel}: {worst.quantity}, "
            f"{worst.error:.1e} of {worst.stated:.1e}",
            file=sys.stderr,
        )
    order = {name: k for k, name in enumerate(dict.fromkeys(s.quantity for s in found))}
    print(table(sorted(found, key=lambda s: order[s.quantity])))


if __name__ == "__main__":
    main()
