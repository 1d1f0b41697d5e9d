"""How honest the impedance's uncertainty is: random motors against a much finer reference.

Run ``python -m tests.verification.coverage_impedance --motors 16 --seed 5`` to print the table
that DEVELOPERS.md shows.  The reference starts from a far finer solved field, refines the mesh
at surfaces two rounds more and is six times finer where the winding stands.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from motor.curves.impedance import ROUNDS, blocked_impedance
from motor.design import Design
from motor.field.meshing import Sizing
from motor.result import solve
from tests.random_motors import random_designs
from tests.verification.coverage import Sample, table

REFERENCE = Sizing(at_gap=0.1, away=0.03, growth=0.3, largest=0.04, layers=3)
MORE_ROUNDS = 2
AT_COIL = 0.05
FREQUENCIES = (30.0, 300.0, 3000.0)


def samples(design: Design) -> Iterator[Sample]:
    """Compute a design's impedance at default accuracy and as a reference, and compare."""
    result = solve(design)
    low, high = result.bl_curve.x[[0, -1]]
    at = [low, 0.0, high]
    found = blocked_impedance(result, at, FREQUENCIES)
    finer = solve(design, sizing=REFERENCE)
    exact = blocked_impedance(finer, at, FREQUENCIES, rounds=ROUNDS + MORE_ROUNDS, at_coil=AT_COIL)
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


def main() -> None:
    """Print the table for as many random motors as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=16)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    designs = random_designs(options.seed, options.motors)
    found = [sample for design in designs for sample in samples(design)]
    order = {name: k for k, name in enumerate(dict.fromkeys(s.quantity for s in found))}
    print(table(sorted(found, key=lambda s: order[s.quantity])))


if __name__ == "__main__":
    main()
