"""Coils in free space: field, mutual inductance and self-inductance.

Sources: field of a circular loop by elliptic integrals and mutual inductance of coaxial loops,
J. C. Maxwell, A Treatise on Electricity and Magnetism, 3rd ed., articles 701 and 702 (from
memory); field on the axis of a thick coil, the loop's integrated over the section (D. B.
Montgomery, Solenoid Magnet Design, 1969, from memory); self-inductance of a thick coil, the
Bessel integral of the same (computed independently by a sum over rings as well); Brooks coil,
L = 1.6994e-6 a N^2 (F. W. Grover, Inductance Calculations, 1946, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe, ellipk, j0, j1, struve

from geometries import Gap
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.design.coil import Coil
from motor.design.wire import Wire
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.results.loaded import coil_load
from tests.verification.cases import MM, box, field_level, winding
from tests.verification.checks import check, other_route, outside

AXIS_SOURCE = outside("thick coil, closed form (Montgomery 1969, from memory)")
LOOP_SOURCE = outside("loops over the section, elliptic integrals (Maxwell, art. 702, from memory)")
MUTUAL_SOURCE = outside("coaxial loops (Maxwell, art. 701, from memory)")
SELF_SOURCE = other_route("Bessel integral over the section (computed independently)")

ON_AXIS = 2e-4
"""Measured 6e-5.  B is piecewise linear on this mesh."""
OFF_AXIS = 1.5e-3
"""Worst of 421 points outside the winding, over the local |B| but at least a twentieth of the
strongest; measured 5e-4."""
OFF_AXIS_MEDIAN = 1e-4
"""Middle one of the same points; measured 3e-5."""
MUTUAL = 3e-5
"""Measured 1e-5: sections of finite size."""
SELF = 1.5e-5
"""Measured 8e-6, always too small: the mesh."""

POINTWISE = Sizing(at_gap=0.15, away=0.06, growth=0.12, largest=0.01, layers=1)
"""Fine everywhere: the default mesh is fine along the coil's path only."""
SECTION = Sizing(at_gap=0.25, away=0.2, growth=0.5, largest=0.1)
"""Much coarser than POINTWISE: an integral over the winding is wanted, no place."""


def coil_of(inner: float, outer: float, height: float, layers: int = 1) -> Coil:
    """Return a coil of that section (metres) wound in layers."""
    diameter = (outer - inner) / layers
    wire = Wire(bare_diameter=0.9 * diameter, overall_diameter=diameter)
    return Coil(inner_diameter=2 * inner, winding_height=height, layers=layers, wire=wire)


def energised(level: FieldOnMesh, load: Floats) -> FieldOnMesh:
    """Return the level with the field of a load."""
    return FieldOnMesh(level.system, level.solver, level.solver.solve(extra_load=load))


def loop(a: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return (B_r, B_z) of loops of radius a with 1 A at radii r > 0 and heights z."""
    far, near = (a + r) ** 2 + z**2, (a - r) ** 2 + z**2
    m = 4 * a * r / far
    big_k, big_e = ellipk(m), ellipe(m)
    scale = MU0 / (2 * math.pi * np.sqrt(far))
    b_r = scale * z / r * (-big_k + (a * a + r * r + z * z) / near * big_e)
    b_z = scale * (big_k + (a * a - r * r - z * z) / near * big_e)
    return b_r, b_z


def mutual(a: float, b: float, distance: float) -> float:
    """Return the mutual inductance of two coaxial loops in henry."""
    m = 4 * a * b / ((a + b) ** 2 + distance**2)
    k = math.sqrt(m)
    return float(MU0 * math.sqrt(a * b) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m)))


def self_inductance(inner: float, outer: float, length: float) -> float:
    """Return the inductance of a thick coil of one turn: the Bessel integral."""
    edges = np.concatenate([[0.0], np.linspace(1e-3, 400.0, 1200)]) / outer
    x, w = np.polynomial.legendre.leggauss(12)
    half = np.diff(edges)[:, None] / 2
    k = (edges[:-1, None] + half * (1 + x)).ravel()
    weight = (half * w).ravel()

    def moment(radius: float) -> Floats:
        s = k * radius
        return np.pi * radius / (2 * k) * (j1(s) * struve(0, s) - j0(s) * struve(1, s))

    radial = moment(outer) - moment(inner)
    axial = 2 / k * (length + np.expm1(-k * length) / k)
    section = (outer - inner) * length
    return float(math.pi * MU0 / section**2 * (weight @ (radial**2 * axial)))


@pytest.fixture(scope="module")
def thick_coil() -> FieldOnMesh:
    coil = coil_of(25 * MM, 35 * MM, 20 * MM, layers=10)
    reach = 70 * MM
    regions = [
        winding("coil", box(25 * MM, 35 * MM, -10 * MM, 10 * MM)),
        winding("space", box(0.0, reach, -reach, reach)),
    ]
    gap = Gap(25 * MM, 35 * MM, -10 * MM, 10 * MM)
    level = field_level(regions, gap, sizing=POINTWISE, solve=False)
    return energised(level, coil_load(level, coil, 0.0, 2e6 * 10 * MM * 20 * MM))


@pytest.mark.parametrize("height", [0.0, 10.0, 30.0])
def test_thick_coil_on_axis(thick_coil: FieldOnMesh, height: float) -> None:
    inner, outer = 25 * MM, 35 * MM
    expected = 0.0
    for x in (10 * MM + height * MM, 10 * MM - height * MM):
        expected += x * math.log((outer + math.hypot(outer, x)) / (inner + math.hypot(inner, x)))
    expected *= MU0 * 2e6 / 2
    got = thick_coil.flux_density(0.0, height * MM)[1]
    check(f"thick coil, B_z on the axis at {height} mm (T)", AXIS_SOURCE, expected, got, ON_AXIS)


def test_thick_coil_off_axis(thick_coil: FieldOnMesh) -> None:
    r, z = np.meshgrid(np.linspace(1.5, 61.5, 21) * MM, np.linspace(-51, 51, 21) * MM)
    keep = np.hypot(np.maximum(abs(r - 30 * MM) - 5 * MM, 0), np.maximum(abs(z) - 10 * MM, 0)) > MM
    r, z = r[keep], z[keep]
    x, w = np.polynomial.legendre.leggauss(24)
    a, height = np.meshgrid(30 * MM + 5 * MM * x, 10 * MM * x, indexing="ij")
    share = 400.0 * np.outer(w, w).ravel() / 4
    b_r, b_z = loop(a.ravel(), r[:, None], z[:, None] - height.ravel())
    expected = np.stack([b_r @ share, b_z @ share], axis=-1)
    apart = np.hypot(*(thick_coil.flux_density(r, z) - expected).T)
    size = np.hypot(*expected.T)
    worst = (apart / np.maximum(size, 0.05 * size.max())).max()
    what = f"thick coil, B at {len(r)} points: largest difference over |B|"
    check(what, LOOP_SOURCE, 0.0, worst, OFF_AXIS, relative=False)
    what = f"thick coil, B at {len(r)} points: median difference over |B|"
    check(what, LOOP_SOURCE, 0.0, np.median(apart / size), OFF_AXIS_MEDIAN, relative=False)


@pytest.mark.parametrize(
    ("first", "second", "distance"),
    [(100, 100, 100), (200, 240, 100), (12.5, 13.5, 2), (100, 100, 10)],
)
def test_mutual_inductance(first: float, second: float, distance: float) -> None:
    side = min(0.01 * first, 0.1 * distance) * MM
    radii, heights = (first * MM, second * MM), (0.0, distance * MM)
    coils = [coil_of(r - side / 2, r + side / 2, side) for r in radii]
    regions = [
        winding(f"coil_{i}", box(r - side / 2, r + side / 2, z - side / 2, z + side / 2))
        for i, (r, z) in enumerate(zip(radii, heights, strict=True))
    ]
    gap = Gap(radii[0] - side / 2, radii[0] + side / 2, -side / 2, side / 2)
    level = field_level(regions, gap, solve=False)
    loads = [coil_load(level, c, z, 1.0) for c, z in zip(coils, heights, strict=True)]
    linked = 2 * math.pi * float(loads[1] @ energised(level, loads[0]).solution.reduced)
    what = f"mutual inductance of loops, radii {first} and {second} mm, {distance} mm apart (H)"
    check(what, MUTUAL_SOURCE, mutual(*radii, heights[1]), linked, MUTUAL)


@pytest.mark.parametrize(
    ("name", "inner", "outer", "length", "turns"),
    [
        ("Brooks coil of 40 mm outer radius, 200 turns", 20.0, 40.0, 20.0, 200),
        ("coil 25 to 35 mm, 20 mm long, 400 turns", 25.0, 35.0, 20.0, 400),
        ("voice coil of 26.1 mm mean diameter, 100 turns", 12.75, 13.35, 12.0, 100),
    ],
)
def test_self_inductance(name: str, inner: float, outer: float, length: float, turns: int) -> None:
    a, b, height = inner * MM, outer * MM, length * MM
    layers = max(1, round((b - a) / MM))
    gap = Gap(a, b, -height / 2, height / 2)
    region = winding("coil", box(a, b, -height / 2, height / 2))
    level = field_level([region], gap, sizing=SECTION, solve=False)
    load = coil_load(level, coil_of(a, b, height, layers), 0.0, 1.0)
    linked = 2 * math.pi * float(load @ energised(level, load).solution.reduced)
    expected = turns**2 * self_inductance(a, b, height)
    check(f"self-inductance of a {name} (H)", SELF_SOURCE, expected, turns**2 * linked, SELF)
