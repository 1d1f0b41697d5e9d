"""Forces between coil and magnet, magnets and coils before a plate of iron, and a narrow gap.

Sources: force on a coaxial coil from Maxwell's mutual inductance of loops, integrated over both
current sheets (J. C. Maxwell, A Treatise on Electricity and Magnetism, 3rd ed., article 701, from
memory; the geometry of magnet and coil is that of a published example, the numbers are computed
independently); images in a half space of permeability mu_r, strength (mu_r - 1)/(mu_r + 1)
(J. D. Jackson, Classical Electrodynamics, 3rd ed., section 5.17, from memory); field between
coaxial pole faces of infinite permeability, B_r = mu0 N I/(r ln(r2/r1)), from Ampere's law.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from geometries import Gap
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.design.coil import Coil
from motor.design.wire import Wire
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import LinearSteel
from motor.results.loaded import AT_COIL, coil_load, loaded_coil
from motor.results.profile import flux_profile
from tests.verification.cases import (
    MM,
    box,
    field_level,
    magnet,
    millimetre_box,
    steel,
    winding,
)
from tests.verification.checks import check, outside

FORCE_SOURCE = outside("current sheets (Maxwell, art. 701; computed independently)")
IMAGE_SOURCE = outside("image in a half space (Jackson, section 5.17, from memory)")
GAP_SOURCE = outside("Ampere's law between coaxial pole faces of infinite permeability")

FORCE = 2e-3
"""Measured 8e-4 on the default mesh, which is meant for gaps between steel."""
IMAGE_FIELD = 1.5e-3
"""Measured 6e-4: B is piecewise linear on this mesh; the finite plate's share is below 1e-4."""
IMAGE_FORCE = 1e-4
"""Measured 3e-5: the stress is integrated over a plane, so point errors cancel."""
RELUCTANCE = 2e-3
"""Measured 4.7e-4 at mu_r = 3 and 2.5e-4 at 1000, on a mesh finer at the coil than the default."""
IMAGE_INDUCTANCE = 2e-4
"""Measured below 1e-4: the plate ends at 16 loop radii, and is 12 thick."""
GAP_FIELD = 3e-4
"""Measured 1.2e-4: the core takes l/mu_r = 0.03 um of the gap's 300 um, 1e-4."""


def mutual(a: float, b: float, distance: Floats) -> Floats:
    """Return the mutual inductance of coaxial loops in henry."""
    m = 4 * a * b / ((a + b) ** 2 + distance**2)
    k = np.sqrt(m)
    result: Floats = MU0 * math.sqrt(a * b) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))
    return result


def sheet_force(a: float, length_a: float, b: float, length_b: float, distance: float) -> float:
    """Return the axial force between current sheets of 1 A/m, per 1 A/m.

    ``distance`` is that of their middles.  The double integral of dM/dz has one integration
    done already.
    """
    x, w = np.polynomial.legendre.leggauss(64)
    z = distance + length_a / 2 * x
    ends = mutual(a, b, z + length_b / 2) - mutual(a, b, z - length_b / 2)
    return float(length_a / 2 * (w @ ends))


MAGNET_RADIUS, MAGNET_LENGTH, REMANENCE = 15 * MM, 15 * MM, 1.0
COIL = Coil(
    inner_diameter=39.6 * MM,
    winding_height=20 * MM,
    layers=1,
    wire=Wire(bare_diameter=0.36 * MM, overall_diameter=0.4 * MM),
)


def expected_force_factor(displacement: float) -> float:
    """Return the force per ampere on the magnet, mean over the winding's radii."""
    x, w = np.polynomial.legendre.leggauss(3)
    radii = COIL.mean_radius + COIL.build_up / 2 * x
    per_metre = COIL.turns / COIL.winding_height * REMANENCE / MU0
    forces = [
        sheet_force(MAGNET_RADIUS, MAGNET_LENGTH, r, COIL.winding_height, displacement)
        for r in radii
    ]
    return per_metre * float(w @ forces) / 2


@pytest.fixture(scope="module")
def force_of() -> Callable[[float], tuple[float, float]]:
    """Return what gives Bl and loaded force per ampere at a displacement."""
    half = MAGNET_LENGTH / 2
    body = magnet("magnet", box(0.0, MAGNET_RADIUS, -half, half))
    gap = Gap(18 * MM, 22 * MM, -10 * MM, 10 * MM)
    field = solve_field([body], gap, {}, {"magnet": MagnetState((0.0, REMANENCE), 1.0)})
    profile = flux_profile(
        field, COIL.inner_radius, COIL.outer_radius, -30 * MM, 30 * MM, 0.25 * MM
    )

    def forces(displacement: float) -> tuple[float, float]:
        bl = float(profile.force_factor(displacement, COIL.winding_height, COIL.turns))
        loaded = loaded_coil(field, COIL, displacement, 10.0)
        return bl, loaded.force_factor.value

    return forces


@pytest.mark.parametrize("displacement", [2.0, 5.0, 10.0, 15.0])
def test_coil_around_magnet(
    force_of: Callable[[float], tuple[float, float]], displacement: float
) -> None:
    expected = expected_force_factor(displacement * MM)
    bl, loaded = force_of(displacement * MM)
    what = f"iron-free motor, coil {displacement:g} mm off the middle"
    check(f"{what}: |Bl| (T m)", FORCE_SOURCE, abs(expected), abs(bl), FORCE)
    check(
        f"{what}: |force| per ampere at 10 A (N/A)", FORCE_SOURCE, abs(expected), abs(loaded), FORCE
    )


PLATE = millimetre_box(0, 150, -100, 0)
FINE = Sizing(at_gap=0.2, away=0.05, growth=0.1, largest=0.05, layers=3)


def disc_before_plate(distance: float) -> FieldOnMesh:
    """Return the field of a disc magnet 20 x 5 mm of 1.2 T above a plate."""
    body = magnet("magnet", box(0.0, 10 * MM, distance, distance + 5 * MM))
    space = winding("space", box(0.0, 40 * MM, 0.0, distance))
    gap = Gap(10 * MM, 11 * MM, distance / 4, 3 * distance / 4)
    curve = LinearSteel("linear", 0.0, IMAGE_SOURCE, 1e5).curve()
    return field_level(
        [body, space, steel("plate", PLATE)],
        gap,
        {"plate": curve},
        {"magnet": MagnetState((0.0, 1.2), 1.0)},
        sizing=FINE,
        outer_ratio=2.0,
    )


def disc_on_axis(height: float) -> float:
    """Return B_z on the axis of that magnet at a height above its middle."""
    up, down = height + 2.5 * MM, height - 2.5 * MM
    return 0.6 * (up / math.hypot(up, 10 * MM) - down / math.hypot(down, 10 * MM))


@pytest.mark.parametrize("distance", [1.0, 5.0])
def test_magnet_before_plate(distance: float) -> None:
    d = distance * MM
    level = disc_before_plate(d)
    middle = d + 2.5 * MM
    for share in (0.25, 0.5, 0.75):
        z = share * d
        expected = disc_on_axis(middle - z) + disc_on_axis(middle + z)
        what = f"disc magnet {distance:g} mm before a plate, B_z on the axis at {share} of it (T)"
        check(what, IMAGE_SOURCE, expected, level.flux_density(0.0, z)[1], IMAGE_FIELD)
    strength = (1.2 / MU0) ** 2
    expected = strength * abs(sheet_force(10 * MM, 5 * MM, 10 * MM, 5 * MM, 2 * middle))
    edges = np.concatenate([np.linspace(0, 20, 161), np.geomspace(20.2, 149, 120)]) * MM
    x, w = np.polynomial.legendre.leggauss(3)
    half = np.diff(edges)[:, None] / 2
    r = (edges[:-1, None] + half * (1 + x)).ravel()
    b = level.flux_density(r, 0.5 * d)
    stress = (b[:, 1] ** 2 - b[:, 0] ** 2) / (2 * MU0)
    got = float((half * w).ravel() @ (2 * math.pi * r * stress))
    what = f"disc magnet {distance:g} mm before a plate, attraction by Maxwell's stress (N)"
    check(what, IMAGE_SOURCE, expected, got, IMAGE_FORCE)


@pytest.mark.parametrize("permeability", [10.0, 100.0, 1e6])
def test_coil_before_plate(permeability: float) -> None:
    side = 0.5 * MM
    coil = Coil(
        inner_diameter=50 * MM - side,
        winding_height=side,
        layers=1,
        wire=Wire(bare_diameter=0.9 * side, overall_diameter=side),
    )
    near = steel("near", millimetre_box(0, 40, -15, 0))
    corners = [(0, -300), (400, -300), (400, 0), (40, 0), (40, -15), (0, -15)]
    far = steel("far", [(r * MM, z * MM) for r, z in corners])
    section = winding("coil", box(25 * MM - side / 2, 25 * MM + side / 2, 4.75 * MM, 5.25 * MM))
    gap = Gap(25 * MM - side / 2, 25 * MM + side / 2, 4.75 * MM, 5.25 * MM)
    linked = []
    for mu in (permeability, 1.0):
        curve = LinearSteel("linear", 0.0, IMAGE_SOURCE, mu).curve()
        level = field_level(
            [section, near, far],
            gap,
            {"near": curve, "far": curve},
            sizing=FINE,
            outer_ratio=2.0,
            solve=False,
        )
        load = coil_load(level, coil, 5 * MM, 1.0)
        linked.append(2 * math.pi * float(load @ level.solver.solve(extra_load=load).reduced))
    share = (permeability - 1) / (permeability + 1)
    expected = share * float(mutual(25 * MM, 25 * MM, np.array(10 * MM)))
    what = f"loop of 25 mm radius 5 mm before a plate of mu_r {permeability:g}: added L (H)"
    check(what, IMAGE_SOURCE, expected, linked[0] - linked[1], IMAGE_INDUCTANCE)


def test_narrow_gap() -> None:
    inner, outer = 12.5 * MM, 12.8 * MM
    outline = [
        (0, -30),
        (40, -30),
        (40, 3),
        (12.8, 3),
        (12.8, -3),
        (30, -3),
        (30, -24),
        (12.5, -24),
        (12.5, 3),
        (0, 3),
    ]
    core = steel("core", [(r * MM, z * MM) for r, z in outline])
    gap = Gap(inner, outer, -3 * MM, 3 * MM)
    curve = LinearSteel("linear", 0.0, GAP_SOURCE, 1e7).curve()
    coil = Coil(
        inner_diameter=36 * MM,
        winding_height=8 * MM,
        layers=8,
        wire=Wire(bare_diameter=0.45 * MM, overall_diameter=0.5 * MM),
    )
    level = field_level([core], gap, {"core": curve}, solve=False)
    load = coil_load(level, coil, -14 * MM, 100.0)
    level = FieldOnMesh(level.system, level.solver, level.solver.solve(extra_load=load))
    for share in (0.1, 0.5, 0.9):
        r = inner + share * (outer - inner)
        expected = MU0 * 100.0 / (r * math.log(outer / inner))
        got = abs(level.flux_density(r, 0.0)[0])
        check(
            f"narrow gap, |B_r| at {share} of its width (T)", GAP_SOURCE, expected, got, GAP_FIELD
        )
    psi = level.flux_function(0.5 * (inner + outer), np.array([-1.5 * MM, 1.5 * MM]))
    permeance = 2 * math.pi * abs(psi[1] - psi[0]) / 100.0
    expected = 2 * math.pi * MU0 * 3 * MM / math.log(outer / inner)
    check(
        "narrow gap, permeance of its middle half (H)", GAP_SOURCE, expected, permeance, GAP_FIELD
    )


@pytest.mark.parametrize("permeability", [3.0, 1000.0])
def test_own_current_pulls_a_coil_towards_a_plate(permeability: float) -> None:
    """Reluctance force of a coil over a half space: that between it and its image.

    The winding is divided into sheets; the image of each has (mu_r - 1)/(mu_r + 1) of its current
    and lies as far below the surface.  A trace of remanence gives the field something to solve.
    """
    one = Coil(
        inner_diameter=20 * MM,
        winding_height=6 * MM,
        layers=2,
        wire=Wire(bare_diameter=0.46 * MM, overall_diameter=0.5 * MM),
        rest_position=7 * MM,
    )
    plate = steel("plate", millimetre_box(0, 160, -120, 0))
    trace = magnet("trace", millimetre_box(0, 2, 6, 8))
    gap = Gap(9 * MM, 13 * MM, 2 * MM, 12 * MM)
    law = {"plate": LinearSteel("plate", 7850.0, "test", permeability).curve()}
    field = solve_field([plate, trace], gap, law, {"trace": MagnetState((0.0, 1e-6), 1.0)})
    current = 3.0
    x, w = np.polynomial.legendre.leggauss(4)
    radii, share = one.mean_radius + one.build_up / 2 * x, w / 2
    density = current * one.turns_in_series / one.winding_height
    height = one.winding_height
    pull = sum(
        p * q * sheet_force(a, height, b, height, 2 * one.rest_position)
        for a, p in zip(radii, share, strict=True)
        for b, q in zip(radii, share, strict=True)
    )
    image = (permeability - 1) / (permeability + 1)
    expected = image * density**2 * pull
    coarse, found = (
        loaded_coil(field, one, 0.0, current, at_coil=k).reluctance_force for k in (AT_COIL, 0.25)
    )
    assert abs(coarse.value + abs(expected)) <= coarse.uncertainty
    assert abs(found.value + abs(expected)) <= found.uncertainty
    name = f"reluctance force over a half space, mu_r {permeability:g}"
    check(name, IMAGE_SOURCE, -abs(expected), found.value, RELUCTANCE)
