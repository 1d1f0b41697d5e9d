"""Radial pull off centre: closed forms of magnets in free space and of eccentric cylinders.

Sources: rigid magnets in free space have a potential energy that obeys Laplace's equation (S.
Earnshaw, Transactions of the Cambridge Philosophical Society 7, 1842, 97-112, from memory), so
that of coaxial ones the radial stiffness is half the axial one with the other sign, which
magpylib's field gives; a magnet before an endless plane of iron is moved along it for nothing
(image); two cylinders of radius a and b, axes apart by d, at a difference of magnetic potential,
as their capacitance per length 2 pi eps0 / arcosh((a^2 + b^2 - d^2) / (2 a b)) says (W. R. Smythe,
Static and Dynamic Electricity, 1950, section 4.12, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

import motor
from geometries import Gap
from motor.base.constants import MU0
from motor.field.meshing import Sizing
from motor.field.weak_form import MagnetState
from motor.materials import LinearSteel
from motor.results.off_centre import first_order, off_centre
from tests.verification.cases import MM, box, field_level, magnet, steel
from tests.verification.checks import check, identity, outside
from tests.verification.test_forces import HEIGHT, RADIUS, REMANENCE, attraction

EARNSHAW = outside("half the axial stiffness by magpylib (Earnshaw 1842, from memory)")
PLANE = outside("image in an endless plane (Jackson, from memory)")
CYLINDERS = outside("eccentric cylinders (Smythe 1950, section 4.12, from memory)")
BOTH = identity("what moves and what stands exchanged")
FINE = Sizing(at_gap=0.2, away=0.04, growth=0.2, largest=0.04, layers=3)
INNER, OUTER = 20 * MM, 21 * MM


@pytest.mark.parametrize("distance", [1 * MM, 4 * MM])
def test_two_discs_slide_off_each_other(distance: float) -> None:
    up = HEIGHT + distance
    gap = Gap(RADIUS, RADIUS + 2 * MM, -HEIGHT / 4, HEIGHT / 4)
    level = field_level(
        [
            magnet("lower", box(0.0, RADIUS, -HEIGHT / 2, HEIGHT / 2)),
            magnet("upper", box(0.0, RADIUS, up - HEIGHT / 2, up + HEIGHT / 2)),
        ],
        gap,
        magnets=dict.fromkeys(("lower", "upper"), MagnetState((0.0, REMANENCE), 1.0)),
        sizing=FINE,
    )
    step = 0.01 * MM
    axial = (attraction(distance + step) - attraction(distance - step)) / (2 * step)
    what = f"radial stiffness of a disc {distance / MM:g} mm over another (N/m)"
    check(what, EARNSHAW, -0.5 * axial, first_order(level, ["upper"], gap)[0], 3e-3)


def test_a_magnet_slides_along_a_plane_of_iron_for_nothing() -> None:
    distance = 2 * MM
    low = -HEIGHT / 2 - distance
    gap = Gap(RADIUS, RADIUS + 2 * MM, -HEIGHT / 4, HEIGHT / 4)
    level = field_level(
        [
            magnet("magnet", box(0.0, RADIUS, -HEIGHT / 2, HEIGHT / 2)),
            steel("plate", box(0.0, 8 * RADIUS, low - 30 * MM, low)),
        ],
        gap,
        steels={"plate": LinearSteel("ideal", 7800.0, "test", relative_permeability=1e5).curve()},
        magnets={"magnet": MagnetState((0.0, REMANENCE), 1.0)},
        sizing=FINE,
    )
    step = 0.01 * MM
    axial = (attraction(2 * distance + step) - attraction(2 * distance - step)) / (2 * step)
    found = first_order(level, ["magnet"], gap)[0] / axial
    what = "radial over axial stiffness of a disc before a wide plate"
    check(what, PLANE, 0.0, found, 1e-3, relative=False)


def pulled(depth: float) -> float:
    """Return stiffness over the square of the magnetic tension of a gap, N/m/A^2."""
    gap = Gap(INNER, OUTER, -depth / 2, depth / 2)
    low = -depth / 2
    cup = (
        (0.0, low - 45 * MM),
        (70 * MM, low - 45 * MM),
        (70 * MM, depth / 2),
        (OUTER, depth / 2),
        (OUTER, low),
        (60 * MM, low),
        (60 * MM, low - 35 * MM),
        (0.0, low - 35 * MM),
    )
    pole = (
        (0.0, low - 25 * MM),
        (40 * MM, low - 25 * MM),
        (40 * MM, low - 15 * MM),
        (INNER, low - 15 * MM),
        (INNER, depth / 2),
        (0.0, depth / 2),
    )
    ideal = LinearSteel("ideal", 7800.0, "test", relative_permeability=1e6).curve()
    level = field_level(
        [
            steel("cup", cup),
            magnet("magnet", box(0.0, 30 * MM, low - 35 * MM, low - 25 * MM)),
            steel("pole", pole),
        ],
        gap,
        steels={"cup": ideal, "pole": ideal},
        magnets={"magnet": MagnetState((0.0, REMANENCE), 1.0)},
        sizing=Sizing(at_gap=0.2),
    )
    r = 0.5 * (INNER + OUTER)
    tension = float(level.flux_density(r, 0.0)[0]) * r / MU0 * np.log(OUTER / INNER)
    return first_order(level, ["pole"], gap)[0] / tension**2


def test_two_lengths_differ_as_eccentric_cylinders() -> None:
    short, long = 20 * MM, 30 * MM
    curvature = 2 * np.pi * MU0 / np.log(OUTER / INNER) ** 2 * 2 / (OUTER**2 - INNER**2)
    found = (pulled(long) - pulled(short)) / (long - short)
    check(
        "pull of eccentric cylinders per length (N/m^2/A^2)", CYLINDERS, curvature / 2, found, 1e-3
    )


def test_the_field_moves_with_the_narrow_side_and_both_sides_pull_alike() -> None:
    result = motor.solve(motor.starter("inside-magnet"))
    gap = result.design.geometry.gap
    inside, cup = (
        off_centre(result.field, names, gap) for names in (["pole_plate", "magnet"], ["cup"])
    )
    what = "inside-magnet, stiffness of the inside part and of the cup (N/m)"
    check(what, BOTH, inside.stiffness.value, cup.stiffness.value, 1e-3)
    assert inside.by_hand is not None
    assert 1.0 < inside.stiffness.value / inside.by_hand < 1.3  # fringes pull too
    assert inside.field_change * gap.width == pytest.approx(1.0, abs=0.15)
