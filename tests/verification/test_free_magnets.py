"""Magnets in free space: closed forms and an analytical magnet library.

Sources: field on the axis of a uniformly magnetised disc or ring, the standard closed form of
two charged discs (e.g. J. D. Jackson, Classical Electrodynamics, 3rd ed., section 5.10, from
memory); off the axis M. Ortner and L. G. Coliado Bandeira, Magpylib, SoftwareX 11, 2020, 100466
(its cylinder by elliptic integrals); demagnetising factor of a cylinder from the coefficient of
H. Nagaoka, J. Coll. Sci. Imp. Univ. Tokyo 27, 1909, art. 6; uniformly magnetised sphere,
B = 2 Br/(mu_rec + 2), Jackson, sections 5.10 and 5.11 (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from geometries import Gap
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.field.weak_form import MagnetState
from tests.verification.cases import MM, box, field_level, magnet, mean_over, winding
from tests.verification.checks import check, outside

AXIS_SOURCE = outside("charged discs, closed form (Jackson, from memory)")
GRID_SOURCE = outside("magpylib (Ortner and Coliado Bandeira 2020)")
DEMAGNETISING_SOURCE = outside("1 - Nagaoka's coefficient (Nagaoka 1909)")
SPHERE_SOURCE = outside("uniformly magnetised sphere (Jackson, from memory)")

ON_AXIS = 6e-4
"""Of the strongest field on that axis; measured 2.5e-4.  B is piecewise linear on this mesh."""
OFF_AXIS = 3e-3
"""Worst of 400 points, over the local |B| but at least a twentieth of the strongest, at a
distance of a fifth of the magnet's length from its edges; measured 1.4e-3."""
OFF_AXIS_MEDIAN = 1e-4
"""Middle one of the same points; measured 3e-5."""
MEAN = 4e-4
"""Volume means converge much faster than point values; measured 1.7e-4 on the default mesh."""
SPHERE = 2e-5
"""A polygon of 64 sides; measured 5e-6."""

POINTWISE = Sizing(at_gap=0.3, away=0.06, growth=0.12, largest=0.01, layers=3)
"""Fine everywhere: the default mesh is fine along the coil's path only."""
SPACE = 2.2
"""Half height and radius of the space that is meshed finely, over the magnet's radius."""


def cylinder(
    inner: float, outer: float, length: float, remanence: float, *, pointwise: bool = True
) -> FieldOnMesh:
    """Return the field of an upright ring magnet whose middle is at the origin (metres)."""
    half, reach = length / 2, SPACE * outer
    space = [winding("space", box(0.0, reach, -reach, reach))] if pointwise else []
    return field_level(
        [magnet("magnet", box(inner, outer, -half, half)), *space],
        Gap(outer, outer + length / 5, -half / 2, half / 2),
        magnets={"magnet": MagnetState((0.0, remanence), 1.0)},
        sizing=POINTWISE if pointwise else None,
    )


def on_axis(radius: float, length: float, remanence: float, height: float) -> float:
    """Return B_z on the axis of a disc at a height above its middle."""
    up, down = height + length / 2, height - length / 2
    return remanence / 2 * (up / math.hypot(up, radius) - down / math.hypot(down, radius))


def nagaoka(ratio: float) -> float:
    """Return Nagaoka's coefficient for a diameter over length."""
    m = ratio**2 / (1 + ratio**2)
    k, rest = math.sqrt(m), math.sqrt(1 - m)
    big_k, big_e = float(ellipk(m)), float(ellipe(m))
    return 4 / (3 * math.pi * rest) * ((1 - m) / m * (big_k - big_e) + big_e - k)


@pytest.fixture(scope="module")
def disc() -> FieldOnMesh:
    return cylinder(0.0, 10 * MM, 5 * MM, 1.2)


@pytest.fixture(scope="module")
def ring() -> FieldOnMesh:
    return cylinder(22.5 * MM, 50 * MM, 18 * MM, 0.4)


@pytest.mark.parametrize("above_face", [-2.5, 0.0, 1.0, 5.0, 20.0])
def test_disc_on_axis(disc: FieldOnMesh, above_face: float) -> None:
    height = (above_face + 2.5) * MM
    expected = on_axis(10 * MM, 5 * MM, 1.2, height)
    got = disc.flux_density(0.0, height)[1]
    what = f"disc magnet, B_z on the axis {above_face} mm above its face (T)"
    tolerance = ON_AXIS * on_axis(10 * MM, 5 * MM, 1.2, 0.0)
    check(what, AXIS_SOURCE, expected, got, tolerance, relative=False)


@pytest.mark.parametrize("above_face", [0.0, 5.0, 20.0, 50.0])
def test_ring_on_axis(ring: FieldOnMesh, above_face: float) -> None:
    height = (above_face + 9) * MM
    expected = on_axis(50 * MM, 18 * MM, 0.4, height) - on_axis(22.5 * MM, 18 * MM, 0.4, height)
    got = ring.flux_density(0.0, height)[1]
    what = f"ring magnet, B_z on the axis {above_face} mm above its face (T)"
    check(what, AXIS_SOURCE, expected, got, ON_AXIS * 0.057, relative=False)


def magpylib_field(
    inner: float, outer: float, length: float, remanence: float, r: Floats, z: Floats
) -> Floats:
    """Return (B_r, B_z) of a ring magnet at points, as the difference of two discs."""
    magpylib = pytest.importorskip("magpylib")
    points = np.stack([r, np.zeros_like(r), z], axis=-1)
    total = np.zeros((len(r), 3))
    for radius, sign in ((outer, 1.0), (inner, -1.0)):
        if radius > 0:
            body = magpylib.magnet.Cylinder(
                polarization=(0.0, 0.0, sign * remanence), dimension=(2 * radius, length)
            )
            total += body.getB(points)
    return total[:, [0, 2]]


@pytest.mark.parametrize(
    ("name", "inner", "outer", "length", "remanence"),
    [("disc", 0.0, 10 * MM, 5 * MM, 1.2), ("ring", 22.5 * MM, 50 * MM, 18 * MM, 0.4)],
)
def test_off_axis(
    request: pytest.FixtureRequest,
    name: str,
    inner: float,
    outer: float,
    length: float,
    remanence: float,
) -> None:
    level = request.getfixturevalue(name)
    r, z = np.meshgrid(np.linspace(0.03, 1.93, 20) * outer, np.linspace(-1.93, 1.93, 20) * outer)
    r, z = r.ravel(), z.ravel()
    from_side = np.minimum(abs(r - outer), abs(r - inner) if inner else outer)
    keep = np.hypot(from_side, abs(abs(z) - length / 2)) > 0.2 * length
    r, z = r[keep], z[keep]
    expected = magpylib_field(inner, outer, length, remanence, r, z)
    apart = np.hypot(*(level.flux_density(r, z) - expected).T)
    size = np.hypot(*expected.T)
    worst = (apart / np.maximum(size, 0.05 * size.max())).max()
    what = f"{name} magnet, B at {len(r)} points: largest difference over |B|"
    check(what, GRID_SOURCE, 0.0, worst, OFF_AXIS, relative=False)
    what = f"{name} magnet, B at {len(r)} points: median difference over |B|"
    check(what, GRID_SOURCE, 0.0, np.median(apart / size), OFF_AXIS_MEDIAN, relative=False)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0, 4.0, 8.0])
def test_demagnetising_factor(ratio: float) -> None:
    radius = 10 * MM
    level = cylinder(0.0, radius, 2 * radius / ratio, 1.0, pointwise=False)
    factor = 1 - mean_over(level, "magnet")[1]
    what = f"demagnetising factor of a cylinder, diameter over length {ratio}"
    check(what, DEMAGNETISING_SOURCE, 1 - nagaoka(ratio), factor, MEAN)


@pytest.mark.parametrize(("remanence", "recoil"), [(1.2, 1.0), (1.2, 1.05), (0.39, 1.1)])
def test_sphere(remanence: float, recoil: float) -> None:
    radius, sides = 10 * MM, 64
    angle = np.linspace(-math.pi / 2, math.pi / 2, sides + 1)
    outline = [(radius * math.cos(t), radius * math.sin(t)) for t in angle]
    level = field_level(
        [magnet("magnet", outline)],
        Gap(radius, radius + 1 * MM, -0.5 * MM, 0.5 * MM),
        magnets={"magnet": MagnetState((0.0, remanence), recoil)},
    )
    b_z = mean_over(level, "magnet")[1]
    expected = 2 * remanence / (recoil + 2)
    name = f"magnetised sphere, Br {remanence} T, mu_rec {recoil}"
    check(f"{name}: mean B_z (T)", SPHERE_SOURCE, expected, b_z, SPHERE)
    h = (b_z - remanence) / (MU0 * recoil)
    check(
        f"{name}: mean H (A/m)",
        SPHERE_SOURCE,
        -remanence / (MU0 * (recoil + 2)),
        h,
        SPHERE,
    )
