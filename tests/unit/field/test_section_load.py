"""The load of a rectangle against integrals of polynomials in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from geometries import Gap
from motor.base.arrays import Floats
from motor.field.field import FieldOnMesh
from motor.field.section_load import section_load
from tests.verification.cases import MM, field_level, millimetre_box, winding


@pytest.fixture(scope="module")
def level() -> FieldOnMesh:
    gap = Gap(5 * MM, 8 * MM, -2 * MM, 2 * MM)
    return field_level([winding("part", millimetre_box(4, 9, -3, 3))], gap, solve=False)


def moment(low: Floats, high: Floats, powers: tuple[int, int]) -> float:
    """Return the mean of r^p z^q r over a rectangle."""
    parts = [
        (b ** (n + 1) - a ** (n + 1)) / ((n + 1) * (b - a))
        for a, b, n in zip(low, high, (powers[0] + 1, powers[1]), strict=True)
    ]
    return float(np.prod(parts))


@pytest.mark.parametrize("powers", [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)])
@pytest.mark.parametrize(
    ("low", "high"),
    [((5.1, -1.7), (7.3, 2.9)), ((6.21, 0.33), (6.22, 0.34)), ((4.0, -3.0), (9.0, 3.0))],
    ids=["across", "within one triangle", "along edges"],
)
def test_quadratic_potentials_are_integrated_exactly(
    level: FieldOnMesh, low: tuple[float, float], high: tuple[float, float], powers: tuple[int, int]
) -> None:
    first, last = np.array(low) * MM, np.array(high) * MM
    r, z = level.system.basis.doflocs[:, level.system.free] / MM
    load = section_load(level, first, last)
    got = float(load @ (r ** powers[0] * z ** powers[1]))
    expected = MM * moment(np.array(low), np.array(high), powers)
    assert got == pytest.approx(expected, rel=1e-10, abs=1e-12 * MM)
