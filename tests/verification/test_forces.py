"""Forces on parts: the stress on their surfaces, against closed forms and an analytical library.

Sources: two coaxial discs by the field of one (M. Ortner and L. G. Coliado Bandeira, Magpylib,
SoftwareX 11, 2020, 100466) on the magnetic charge of the other, sigma = J . n / mu0 (J. D.
Jackson, Classical Electrodynamics, 3rd ed., section 5.9, from memory); a magnet before a thick
plate of iron by its mirror image (Jackson, section 5.17, problem 5.17, from memory); moments of
inertia of a cylinder, m R^2 / 2 and m (3 R^2 + h^2) / 12 (any handbook, from memory).
"""

from __future__ import annotations

import magpylib
import numpy as np
import pytest

import motor
from geometries import Gap, Region, Role
from motor.base.constants import MU0
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.field.weak_form import MagnetState
from motor.materials import steel_named
from motor.results.approach import lifted
from motor.results.assembly import assemble
from motor.results.forces import motor_forces
from motor.results.inertia import Body, body_of, together
from motor.results.loads import motor_loads
from motor.results.motor_field import field_materials
from motor.results.virtual_work import stress_of
from tests.verification.cases import MM, box, field_level, least_energy, magnet, steel
from tests.verification.checks import check, identity, outside

CHARGE = outside("magpylib's field on magnetic charge (Ortner and Coliado Bandeira 2020)")
IMAGE = outside("mirror image in iron, by magpylib (Jackson, from memory)")
SLIT = identity("the joint as the limit of a slit of air")
POLES = outside("pull between pole faces, B^2 A / (2 mu0) (J. C. Maxwell, from memory)")
CYLINDER = outside("moments of inertia of a cylinder (handbook, from memory)")
FINE = Sizing(at_gap=0.15, away=0.03, growth=0.15, largest=0.03, layers=3)
RADIUS, HEIGHT, REMANENCE = 10 * MM, 6 * MM, 1.2
CLOSE = 3e-3
"""Of the force; measured 2e-3 and less on this mesh."""


def force_on(level: FieldOnMesh, name: str) -> float:
    return stress_of(level).routes([name])[0][0]


def attraction(distance: float, *, of: float = REMANENCE) -> float:
    """Return the force between two equal discs, one above the other, faces apart by a distance."""
    disc = magpylib.magnet.Cylinder(polarization=(0, 0, of), dimension=(2 * RADIUS, HEIGHT))
    x, w = np.polynomial.legendre.leggauss(200)
    r, dr = 0.5 * RADIUS * (x + 1), 0.5 * RADIUS * w
    total = 0.0
    for sign, z in ((1.0, HEIGHT / 2 + distance + HEIGHT), (-1.0, HEIGHT / 2 + distance)):
        points = np.stack([r, np.zeros_like(r), np.full_like(r, z)], axis=1)
        total += sign * float((disc.getB(points)[:, 2] * 2 * np.pi * r) @ dr)
    return of / MU0 * total


@pytest.mark.parametrize("distance", [1 * MM, 4 * MM])
def test_two_discs(distance: float) -> None:
    up = HEIGHT + distance
    level = field_level(
        [
            magnet("lower", box(0.0, RADIUS, -HEIGHT / 2, HEIGHT / 2)),
            magnet("upper", box(0.0, RADIUS, up - HEIGHT / 2, up + HEIGHT / 2)),
        ],
        Gap(RADIUS, RADIUS + 2 * MM, -HEIGHT / 4, HEIGHT / 4),
        magnets=dict.fromkeys(("lower", "upper"), MagnetState((0.0, REMANENCE), 1.0)),
        sizing=FINE,
    )
    wanted = attraction(distance)
    for name, sign in (("upper", 1.0), ("lower", -1.0)):
        both = stress_of(level).routes([name])
        for route, (force, _) in zip(("air", "magnets' surfaces"), both, strict=True):
            what = f"two discs {distance / MM:g} mm apart, {name} one, by the {route} (N)"
            check(what, CHARGE, sign * wanted, force, CLOSE)


def test_a_magnet_before_iron_is_drawn_to_its_image() -> None:
    distance = 2 * MM
    low = -HEIGHT / 2 - distance
    level = field_level(
        [
            magnet("magnet", box(0.0, RADIUS, -HEIGHT / 2, HEIGHT / 2)),
            steel("plate", box(0.0, 10 * RADIUS, low - 30 * MM, low)),
        ],
        Gap(RADIUS, RADIUS + 2 * MM, -HEIGHT / 4, HEIGHT / 4),
        steels={"plate": steel_named("low-carbon-a").curve()},
        magnets={"magnet": MagnetState((0.0, REMANENCE), 1.0)},
        sizing=FINE,
    )
    wanted = attraction(2 * distance)
    what = "force on a disc 2 mm before a wide thick plate (N)"
    check(what, IMAGE, wanted, force_on(level, "magnet"), 5e-3)


def pull_across(slit: float) -> float:
    """Return the force on a steel disc over a disc magnet, apart by a slit in metres or joined."""
    low = HEIGHT / 2 + slit
    level = field_level(
        [
            magnet("magnet", box(0.0, RADIUS, -HEIGHT / 2, HEIGHT / 2)),
            steel("upper", box(0.0, RADIUS, low, low + 8 * MM)),
        ],
        Gap(RADIUS, RADIUS + 2 * MM, -HEIGHT / 4, HEIGHT / 4),
        steels={"upper": steel_named("low-carbon-a").curve()},
        magnets={"magnet": MagnetState((0.0, REMANENCE), 1.0)},
        sizing=FINE,
    )
    return force_on(level, "upper")


def test_a_joint_pulls_like_ever_thinner_slits() -> None:
    wide, narrow = pull_across(0.1 * MM), pull_across(0.05 * MM)
    what = "force across a joint (N), expected: slits of 0.1 and 0.05 mm continued to none"
    check(what, SLIT, 2 * narrow - wide, pull_across(0.0), 1e-2)


def test_the_pull_is_what_the_energy_loses_over_the_distance() -> None:
    design = motor.starter("outside-magnet")
    far = 8 * MM
    found = assemble(design, ["top_plate"], farthest=far, steps=12)
    steels, magnets = field_materials(design)
    *rest, plate = design.regions
    assert plate.name == "top_plate"
    near, apart = (
        least_energy(
            field_level([*rest, lifted(plate, x)], design.geometry.gap, steels, magnets),
            steels,
            magnets,
        )
        for x in (0.0, far)
    )
    source = identity("energy given off = integral of the force (virtual work)")
    what = "energy of a top plate that closes from 8 mm (J)"
    check(what, source, apart - near, found.energy.value, 5e-3)
    assert abs(apart - near - found.energy.value) <= found.energy.uncertainty


def test_two_poles_of_iron_pull_as_the_field_between_them_says() -> None:
    """A thin gap before wide iron: B^2 / (2 mu0) over the wider face."""
    apart = 0.1 * MM
    level = field_level(
        [
            magnet("magnet", box(0.0, RADIUS, -HEIGHT, 0.0)),
            steel("lower", box(0.0, RADIUS, 0.0, HEIGHT)),
            steel("upper", box(0.0, 6 * RADIUS, HEIGHT + apart, 6 * HEIGHT)),
        ],
        Gap(RADIUS, RADIUS + 2 * MM, 0.0, HEIGHT / 2),
        steels=dict.fromkeys(("lower", "upper"), steel_named("low-carbon-a").curve()),
        magnets={"magnet": MagnetState((0.0, 0.3), 1.05)},
        sizing=FINE,
    )
    x, w = np.polynomial.legendre.leggauss(100)
    wanted = 0.0
    for low, high in ((0.0, RADIUS), (RADIUS, 1.1 * RADIUS), (1.1 * RADIUS, 6 * RADIUS)):
        r = low + 0.5 * (high - low) * (x + 1)
        b = level.flux_density(r, np.full_like(r, HEIGHT + 0.99 * apart))[:, 1]
        wanted -= float((b**2 / (2 * MU0) * 2 * np.pi * r) @ w) * 0.5 * (high - low)
    what = "pull between two iron faces 0.1 mm apart (N)"
    check(what, POLES, wanted, force_on(level, "upper"), 1e-2)


def test_a_cylinder_has_the_inertia_of_the_handbook() -> None:
    radius, height, low, density = 20 * MM, 12 * MM, 3 * MM, 7800.0
    body = body_of(Region("disc", Role.STEEL, box(0.0, radius, low, low + height)), density)
    mass = density * np.pi * radius**2 * height
    for what, wanted, got in (
        ("mass (kg)", mass, body.mass),
        ("about its axis (kg m2)", mass * radius**2 / 2, body.about_axis),
        ("across (kg m2)", mass * (3 * radius**2 + height**2) / 12, body.across),
        ("height of the centre of gravity (m)", low + height / 2, body.height),
    ):
        check(f"cylinder, {what}", CYLINDER, wanted, got, 1e-12)


def test_bodies_together_are_the_body_of_both() -> None:
    lower, upper = (
        body_of(Region("half", Role.STEEL, box(5 * MM, 9 * MM, low * MM, (low + 4) * MM)), 7000.0)
        for low in (0, 4)
    )
    whole = body_of(Region("all", Role.STEEL, box(5 * MM, 9 * MM, 0.0, 8 * MM)), 7000.0)
    both = together([lower, upper])
    source = identity("a body cut in two (Huygens and Steiner)")
    for name in Body.__dataclass_fields__:
        check(f"two halves, {name}", source, getattr(whole, name), getattr(both, name), 1e-12)


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
def test_forces_add_up_to_nothing(kind: str) -> None:
    result = motor.solve(motor.starter(kind), accuracy=1e-4)
    found = motor_loads(result).forces
    gross = sum(abs(part.force.value) for part in found.parts)
    what = f"{kind}, sum of all forces over the sum of their sizes"
    source = identity("no force from within (Newton's third law)")
    check(what, source, 0.0, found.sum / gross, 4e-3, relative=False)


def test_joint_and_parts_tell_the_same() -> None:
    result = motor.solve(motor.starter("outside-magnet"))
    found = motor_forces(result.field, "top_plate")
    by_name = {part.region: part.force.value for part in found.parts}
    joints = {joint.between: joint for joint in found.joints}
    yoke = joints["yoke", "magnet"]
    assert yoke.outer == ("yoke",)
    assert yoke.pull is not None
    assert yoke.pull.value == pytest.approx(by_name["yoke"])
    assert yoke.tension is False
    plate = joints["magnet", "top_plate"]
    assert plate.outer == ("magnet", "yoke")
    assert plate.pull is not None
    assert plate.pull.value == pytest.approx(by_name["yoke"] + by_name["magnet"])
