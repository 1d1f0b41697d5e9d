"""How honest the modes' stated misfit is: random motors against direct solves on the same mesh.

Run ``python -m tests.verification.coverage_coil_model --motors 16 --seed 8`` for the table
of ``studies/coverage.md``.  Every motor of ``coverage_impedance`` at four random places of the coil
and four random frequencies, none of which the modes were made from.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator

import numpy as np

from motor.design.design import Design
from motor.results.coil_model import coil_model
from motor.results.impedance import HIGHEST, equations
from motor.results.motor_result import solve
from motor.results.parallel_parts import loads_at
from tests.verification.coverage import Sample, table
from tests.verification.coverage_impedance import hard_designs

LOWEST = 20.0
PLACES, FREQUENCIES = 4, 4


def samples(design: Design, rng: np.random.Generator) -> Iterator[Sample]:
    """Compare a design's modes with direct solves."""
    result = solve(design)
    found = coil_model(result)
    low, high = found.modes.position[[0, -1]]
    x = np.sort(rng.uniform(low, high, PLACES))
    whole = equations(result, result.field.fine, found.modes.position, HIGHEST)
    loads = loads_at(whole.level, design.coil, x)
    for f in np.exp(rng.uniform(np.log(LOWEST), np.log(HIGHEST), FREQUENCIES)):
        exact = 2 * np.pi * np.einsum("nk,nk->k", loads, whole.potentials(float(f), loads))
        got = found.modes.linkage(x, np.array([f]))[0]
        for name, part in (("inductance", np.real), ("eddy resistance", np.imag)):
            for error in np.abs(part(got - exact) / part(exact)):
                yield Sample(f"{name} by modes", found.misfit, float(error))


def main() -> None:
    """Print the table for as many random motors as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=16)
    parser.add_argument("--seed", type=int, default=8)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    found = []
    for design in hard_designs(options.seed, options.motors):
        now = list(samples(design, rng))
        worst = max(now, key=lambda s: s.error / s.stated)
        print(f"{design.geometry.kind}: {worst.error:.1e} of {worst.stated:.1e}", file=sys.stderr)
        found += now
    print(table(sorted(found, key=lambda s: s.quantity, reverse=True)))


if __name__ == "__main__":
    main()
