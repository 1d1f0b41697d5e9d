"""The field outside: multipoles beyond the mesh, stray field, closed forms for free magnets.

Sources: field of cylinders by elliptic integrals, M. Ortner and L. G. Coliado Bandeira, Magpylib,
SoftwareX 11, 2020, 100466; a uniformly magnetised sphere is a dipole outside, |B| at its poles
(2/3) Br (a/rho)^3 (J. D. Jackson, Classical Electrodynamics, 3rd ed., section 5.10, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import Gap, volume
from motor.field.field import Field
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.results.budget import stray_field
from tests.verification.cases import MM, box, magnet
from tests.verification.checks import check, outside

MAGPYLIB = outside("magpylib (Ortner and Coliado Bandeira 2020)")
SPHERE = outside("uniformly magnetised sphere (Jackson, from memory)")

STRAY = 1e-3
"""Measured 2.5e-4 and less on the default mesh."""
BEYOND = 5e-3
"""Over the largest |B| of the points, the circle as near as it may be; measured 2.8e-3."""
DIPOLE = 2e-4
"""A polygon of 64 sides; measured 3e-5."""

DISCS = {
    "opposing discs": [(0.0, 12.0, 2.0, 8.0, 1.2), (0.0, 12.0, -8.0, -2.0, -1.2)],
    "ring": [(20.0, 45.0, -8.0, 8.0, 0.4)],
    "two unlike rings": [(5.0, 20.0, 5.0, 15.0, 1.1), (15.0, 30.0, -15.0, -2.0, -0.7)],
}
"""Inner and outer radius, bottom, top in mm, remanence in tesla."""


def solved(name: str, outer_ratio: float) -> Field:
    """Return the field of magnets in free space, recoil permeability 1."""
    parts = DISCS[name]
    regions = [
        magnet(f"magnet_{i}", box(*(MM * x for x in part[:4])), (0.0, math.copysign(1.0, part[4])))
        for i, part in enumerate(parts)
    ]
    states = {
        region.name: MagnetState((0.0, part[4]), 1.0)
        for region, part in zip(regions, parts, strict=True)
    }
    _, outer, low, high, _ = parts[0]
    gap = Gap(outer * MM, (outer + 1) * MM, (low + high) / 2 * MM, high * MM)
    return solve_field(regions, gap, {}, states, outer_ratio=outer_ratio)


def exact(name: str, r: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Return (B_r, B_z) by elliptic integrals, each ring the difference of two discs."""
    magpylib = pytest.importorskip("magpylib")
    points = np.stack([r, np.zeros_like(r), z], axis=-1)
    total = np.zeros((len(r), 3))
    for inner, outer, low, high, remanence in DISCS[name]:
        for radius, sign in ((outer, 1.0), (inner, -1.0)):
            if radius > 0:
                total += magpylib.magnet.Cylinder(
                    polarization=(0.0, 0.0, sign * remanence),
                    dimension=(2 * radius * MM, (high - low) * MM),
                    position=(0.0, 0.0, (low + high) / 2 * MM),
                ).getB(points)
    return total[:, [0, 2]]


@pytest.mark.parametrize("outer_ratio", [1.5, 2.5])
@pytest.mark.parametrize("name", DISCS)
def test_largest_stray_field(name: str, outer_ratio: float) -> None:
    field = solved(name, outer_ratio)
    part = field.fine.system.mesh.partition
    angle = np.linspace(-np.pi / 2, np.pi / 2, 181)
    for distance in (10 * MM, 100 * MM):
        radius = part.reach + distance
        r, z = radius * np.cos(angle), part.centre + radius * np.sin(angle)
        expected = np.hypot(*exact(name, r, z).T).max()
        found = stray_field(field, distance)
        what = f"{name}, circle at {outer_ratio} of reach: largest |B| {distance * 1e3:g} mm away"
        check(f"{what} (T)", MAGPYLIB, expected, found.value, STRAY)
        assert abs(found.value - expected) <= found.uncertainty < 0.02 * expected


@pytest.mark.parametrize("name", DISCS)
def test_field_beyond_the_mesh(name: str) -> None:
    """Of the boundary itself: the multipoles of the potential on the outer boundary."""
    field = solved(name, 1.5)
    part = field.fine.system.mesh.partition
    angle = np.linspace(-1.5, 1.5, 41)
    for far in (1.05, 3.0):
        r = far * part.radius * np.cos(angle)
        z = part.centre + far * part.radius * np.sin(angle)
        expected = exact(name, r, z)
        apart = np.hypot(*(field.flux_density(r, z) - expected).T).max()
        what = f"{name}: B at 41 points {far} radii of the mesh away, largest difference over |B|"
        size = np.hypot(*expected.T).max()
        check(what, MAGPYLIB, 0.0, apart / size, BEYOND, relative=False)
    inside, outside = (
        field.flux_function(k * r / far, part.centre + k * (z - part.centre) / far)
        for k in (0.999, 1.001)
    )
    assert np.abs(inside - outside).max() < 0.01 * np.abs(inside).max()


def test_flux_functional_beyond_the_mesh() -> None:
    field = solved("ring", 1.5)
    r, z = np.array([0.04, 0.1]), np.array([0.02, 0.05])
    functional = field.fine.flux_functional(r, z, np.array([1.0, -2.0]))
    psi = field.flux_function(r, z)
    found = float(functional @ field.fine.solution.reduced)
    assert found == pytest.approx(psi[0] - 2 * psi[1], rel=1e-9)


def test_magnetised_sphere() -> None:
    radius = 10 * MM
    angle = np.linspace(-math.pi / 2, math.pi / 2, 65)
    ball = magnet("magnet", [(radius * math.cos(t), radius * math.sin(t)) for t in angle])
    gap = Gap(radius, radius + 1 * MM, -0.5 * MM, 0.5 * MM)
    field = solve_field([ball], gap, {}, {"magnet": MagnetState((0.0, 1.2), 1.0)})
    distance = 100 * MM + radius - field.fine.system.mesh.partition.reach
    cubed = volume(ball) / (4 / 3 * math.pi)  # of the sphere with the polygon's volume
    expected = 2 / 3 * 1.2 * cubed / (radius + 100 * MM) ** 3
    found = stray_field(field, distance).value
    check("magnetised sphere: largest |B| 100 mm away (T)", SPHERE, expected, found, DIPOLE)
