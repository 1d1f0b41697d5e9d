"""How honest the inductance of other windings is on the report page: random motors and windings.

Run ``python -m tests.verification.coverage_winding_modes --motors 24`` for the table of
``studies/coverage.md``.  Every motor of ``coverage_impedance`` with windings of other heights,
layers and places drawn at random as the page's sliders allow, at rest and both ends of the 82 %
stroke, against direct solves of those windings.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Iterator

import numpy as np

from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.results.impedance import BlockedImpedance, blocked_impedance
from motor.results.motor_result import read_off_other_coil, solve
from motor.results.winding_modes import sections_of, winding_modes
from tests.verification.coverage import Sample, table
from tests.verification.coverage_impedance import hard_designs

FREQUENCIES = (30.0, 300.0, 3000.0)
WINDINGS = 4


def samples(design: Design, rng: np.random.Generator) -> Iterator[Sample]:
    """Compare windings in one motor's field."""
    result = solve(design)
    modes = winding_modes(result)
    own = blocked_impedance(result, [0.0], FREQUENCIES)
    for _ in range(WINDINGS):
        coil = dataclasses.replace(
            design.coil,
            winding_height=design.coil.winding_height * rng.uniform(0.6, 1.5),
            layers=max(1, round(design.coil.layers * rng.uniform(0.5, 2.0))),
            rest_position=design.coil.rest_position
            + rng.uniform(-0.3, 0.3) * design.coil.winding_height,
        )
        try:
            other = read_off_other_coil(design.replace(coil=coil), result.field)
        except InvalidInput:
            continue
        reach = min(other.stroke_82.symmetric.value, *np.abs(other.bl_curve.x[[0, -1]]))
        x, sections = np.array([-reach, 0.0, reach]), sections_of(coil)
        if not modes.knows(sections, x.tolist()):
            continue
        exact = blocked_impedance(other, x.tolist(), FREQUENCIES)
        yield from _compared(
            modes.linkage(sections, x, exact.frequency),
            own,
            exact,
            modes.misfit(coil.winding_height, coil.build_up),
        )


def _compared(
    linkage: np.ndarray, own: BlockedImpedance, exact: BlockedImpedance, misfit: np.ndarray
) -> Iterator[Sample]:
    omega = 2 * np.pi * exact.frequency[:, None]
    parts = (("inductance", linkage.real), ("eddy_resistance", -omega * linkage.imag))
    for k, (name, value) in enumerate(parts):
        mesh = getattr(own, f"{name}_uncertainty")[:, 0] / getattr(own, name)[:, 0]
        true = getattr(exact, name)
        errors = np.abs(value / true - 1)
        for i, frequency in enumerate(exact.frequency):
            stated = float(np.hypot(mesh[i], misfit[k]))
            what = f"{name.replace('_', ' ')} at {frequency:g} Hz"
            for error in errors[i]:
                yield Sample(what, stated, float(error))


def main() -> None:
    """Print the table for as many random motors as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--motors", type=int, default=24)
    parser.add_argument("--seed", type=int, default=6)
    options = parser.parse_args()
    found = []
    rng = np.random.default_rng([options.seed, 1])
    for design in hard_designs(options.seed, options.motors):
        found += list(samples(design, rng))
    order = {name: k for k, name in enumerate(dict.fromkeys(s.quantity for s in found))}
    print(table(sorted(found, key=lambda s: order[s.quantity])))


if __name__ == "__main__":
    main()
