"""A ferrite ring motor computed by two other codes.

Source: computed independently for this project, before it was written, with a third-order
finite-element model graded to 0.02 mm at every iron and magnet corner (NGSolve, two meshes) and
a second-order one (scikit-fem).  The two agree on the fluxes to 1e-6 to 5e-6; Bl(x) is the
third-order model's alone.  Iron: table of TEAM workshop problem 13 (T. Nakata, N. Takahashi and
K. Fujiwara, COMPEL 11(3), 1992, 345-369) with its saturation branch, H linear in B between the
rows.  Boundary: A = 0 on a circle of 250 mm radius.

The model is solved twice.  As a user would: the project's smooth curve, outer boundary, default
mesh.  And exactly as defined: straight lines between the rows, a flux-excluding shell at 250 mm,
graded mesh.  The second shows that the first one's differences come from curve and boundary.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import Gap
from motor.base.constants import NU0
from motor.field.field import Field
from motor.field.meshing import Sizing
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve, LinearSteel, steel_named
from motor.materials.steel import B_END, STEP
from motor.results.budget import flux_budget
from motor.results.profile import flux_profile
from tests.verification.cases import MM, least_energy, magnet, mean_over, millimetre_box, steel
from tests.verification.checks import check, other_route

SOURCE = other_route("computed independently (third-order finite elements)")

AS_USED = 2e-3
"""Measured 9e-4: closed boundary of the reference 6e-4, default mesh 5e-4, less the smooth
curve's 2e-4, which acts the other way."""
AS_USED_LINEAR = 2.5e-3
"""Measured 1.6e-3: as above without the curve's share; iron that never saturates has the
sharper singularities at its corners, mesh error 1e-3."""
AS_USED_LEAKAGE = 2.5e-3
"""Measured 1.2e-3: the closed boundary lowers the magnet's flux and raises the gap's."""
AS_DEFINED = 1e-4
"""Measured 4e-5; the reference's own mesh error is up to 5e-6 and its last printed digit 2e-5."""

TABLE_IRON = {
    "B_r at r 13.1 mm, mid gap (T)": 1.107746,
    "gap flux (mWb)": 0.5400069,
    "mean B_z in the magnet (T)": 0.269810,
    "magnet mid-plane flux (mWb)": 1.334739,
    "leakage factor": 2.4717,
    "least value of the energy functional (J)": -2.880327,
    "Bl per turn at x = -8 mm (T m)": 0.0243529,
    "Bl per turn at x = -6 mm (T m)": 0.0388536,
    "Bl per turn at x = -4 mm (T m)": 0.0528607,
    "Bl per turn at x = -2 mm (T m)": 0.0623848,
    "Bl per turn at x = 0 mm (T m)": 0.0624323,
    "Bl per turn at x = 2 mm (T m)": 0.0584938,
    "Bl per turn at x = 4 mm (T m)": 0.0468206,
    "Bl per turn at x = 6 mm (T m)": 0.0321679,
    "Bl per turn at x = 8 mm (T m)": 0.0173642,
}
LINEAR_IRON = {
    "B_r at r 13.1 mm, mid gap (T)": 1.150808,
    "gap flux (mWb)": 0.5620985,
    "mean B_z in the magnet (T)": 0.274467,
    "magnet mid-plane flux (mWb)": 1.356682,
    "leakage factor": 2.4136,
    "Bl per turn at x = -4 mm (T m)": 0.0554073,
    "Bl per turn at x = -2 mm (T m)": 0.0652566,
    "Bl per turn at x = 0 mm (T m)": 0.0652048,
    "Bl per turn at x = 2 mm (T m)": 0.0610261,
    "Bl per turn at x = 4 mm (T m)": 0.0487574,
}

GAP = Gap(12.5 * MM, 13.7 * MM, 15 * MM, 21 * MM)
COIL_RADIUS, WINDING_HEIGHT = 13.1 * MM, 12 * MM
YOKE = ((0, -6), (40, -6), (40, 0), (12.5, 0), (12.5, 21), (0, 21))
MOTOR = (
    steel("yoke", [(r * MM, z * MM) for r, z in YOKE]),
    magnet("magnet", millimetre_box(22, 45, 0, 15)),
    steel("top_plate", millimetre_box(13.7, 40, 15, 21)),
)
MAGNETS = {"magnet": MagnetState((0.0, 0.385), 1.06)}


def straight_line_curve() -> BHCurve:
    """Return H linear in B between the rows, as the reference has it."""
    table = steel_named("low-carbon-a")
    b, h = np.array(table.flux_density), np.array(table.field)
    rows = np.array([0.0, *b[b > 0], B_END])
    field = np.array([0.0, *h[b > 0], h[-1] + (B_END - b[-1]) * NU0])
    grid = np.arange(0.0, B_END + STEP / 2, STEP)
    values = np.interp(grid, rows, field)
    return BHCurve(values, np.gradient(values, STEP))


def figures(field: Field) -> dict[str, float]:
    """Return the figures that the reference lists.  Its gap flux runs inwards."""
    budget = flux_budget(field, GAP, COIL_RADIUS)
    profile = flux_profile(field, COIL_RADIUS, COIL_RADIUS, 4 * MM, 32 * MM, 0.1 * MM)
    found = {
        "B_r at r 13.1 mm, mid gap (T)": -field.flux_density(COIL_RADIUS, 18 * MM)[0],
        "gap flux (mWb)": 1e3 * budget.gap.value,
        "mean B_z in the magnet (T)": mean_over(field.fine, "magnet")[1],
        "magnet mid-plane flux (mWb)": 1e3 * budget.magnet.value,
        "leakage factor": budget.leakage_factor.value,
    }
    for x in range(-8, 9, 2):
        bl = -profile.force_factor((18 + x) * MM, WINDING_HEIGHT, 1)
        found[f"Bl per turn at x = {x} mm (T m)"] = float(bl)
    return found


@pytest.fixture(scope="module")
def table_iron() -> dict[str, float]:
    curve = steel_named("low-carbon-a").curve()
    return figures(solve_field(MOTOR, GAP, {"yoke": curve, "top_plate": curve}, MAGNETS))


@pytest.fixture(scope="module")
def linear_iron() -> dict[str, float]:
    curve = LinearSteel("linear", 7850.0, SOURCE, 1000.0).curve()
    return figures(solve_field(MOTOR, GAP, {"yoke": curve, "top_plate": curve}, MAGNETS))


@pytest.fixture(scope="module")
def as_defined() -> dict[str, float]:
    curve = straight_line_curve()
    angle = np.linspace(-math.pi / 2, math.pi / 2, 49)
    arcs = [
        [(0.0, -radius), *zip(radius * np.cos(a), radius * np.sin(a), strict=True), (0.0, radius)]
        for a in [angle[1:-1]]
        for radius in (0.25, 0.27)
    ]
    shell = steel("shell", [*arcs[0], *arcs[1][::-1]])
    wall = LinearSteel("flux-excluding wall", 1.0, SOURCE, 1e-6).curve()
    field = solve_field(
        (*MOTOR, shell),
        GAP,
        {"yoke": curve, "top_plate": curve, "shell": wall},
        MAGNETS,
        sizing=Sizing(at_gap=0.06, away=0.04, growth=0.15, largest=0.03, layers=4),
        outer_ratio=1.5,
    )
    steels = {"yoke": curve, "top_plate": curve, "shell": wall}
    energy = least_energy(field.fine, steels, MAGNETS)
    return figures(field) | {"least value of the energy functional (J)": energy}


@pytest.mark.parametrize(
    "what", [k for k in TABLE_IRON if not any(far in k for far in ("6 mm", "8 mm", "energy"))]
)
def test_table_iron_as_a_user_solves_it(table_iron: dict[str, float], what: str) -> None:
    tolerance = AS_USED_LEAKAGE if what == "leakage factor" else AS_USED
    check(f"ferrite motor: {what}", SOURCE, TABLE_IRON[what], table_iron[what], tolerance)


@pytest.mark.parametrize("what", LINEAR_IRON)
def test_linear_iron_as_a_user_solves_it(linear_iron: dict[str, float], what: str) -> None:
    tolerance = AS_USED_LEAKAGE if what == "leakage factor" else AS_USED_LINEAR
    check(f"same, mu_r = 1000: {what}", SOURCE, LINEAR_IRON[what], linear_iron[what], tolerance)


@pytest.mark.parametrize("what", TABLE_IRON)
def test_table_iron_exactly_as_defined(as_defined: dict[str, float], what: str) -> None:
    name = f"ferrite motor, closed at 250 mm: {what}"
    check(name, SOURCE, TABLE_IRON[what], as_defined[what], AS_DEFINED)
