"""Identities that hold for every motor, whatever its shape: two roads to one number.

Source: the identities follow from Maxwell's equations (Faraday, Ampere, virtual work, mirror and
scaling symmetry); no number is taken from elsewhere.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

import motor
from geometries import Gap, Region
from motor.base.arrays import Floats
from motor.base.constants import MU0, NU0
from motor.design.coil import Coil
from motor.field.field import Field, FieldOnMesh
from motor.field.meshing import Sizing
from motor.field.newton import Solver
from motor.field.partition import OUTER_RATIO
from motor.field.solve import solve_field
from motor.field.weak_form import Discretisation, MagnetState
from motor.materials import BHCurve, steel_named
from motor.results.budget import magnet_flux
from motor.results.loaded import carried, coil_load, force_goal, loaded_coil, loaded_mesh
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult
from motor.results.profile import flux_profile
from tests.verification.cases import least_energy, mean_over
from tests.verification.checks import check, identity
from tests.verification.test_reference_motor import COIL_RADIUS, GAP, MAGNETS, MOTOR

FARADAY = identity("Faraday's law: Bl is the derivative of the flux linkage")
LORENTZ = identity("Lorentz force: Bl is the integral of B_r over the winding")
RECIPROCITY = identity("force per ampere in the small-current limit is Bl")
COENERGY = identity("even part of the force is i^2/2 dL/dx (virtual work)")
GAUSS = identity("flux through the cross-sections of a magnet (Gauss)")
AMPERE = identity("circulation of H is the current enclosed (Ampere)")
ENVELOPE = identity("derivative of the least energy by the remanence (virtual work)")
SCALING = identity("all lengths doubled: B stays, Bl per turn doubles")
MIRROR = identity("mirrored motor, magnet reversed: Bl(x) mirrored")
POLARITY = identity("magnet reversed: field reversed")
BOUNDARY = identity("outer boundary twice as far")

THREE_WAYS = 3e-5
"""Measured 9e-6: the winding's quadrature over B, which jumps between triangles."""
SMALL_CURRENT = 1e-5
"""Measured 2e-6, the tolerance of the non-linear solution over so small a change."""
EVEN_FORCE = 1e-3
"""Measured 3e-4: differences of L over a hundredth of the winding height."""
MEAN_FLUX = 1e-7
"""Measured 3e-8: trapezoids over the magnet's height."""
PLANE_FLUX = 1e-6
"""Measured 4e-7: quadrature over B, which jumps between triangles."""
CIRCULATION = 2.5e-3
"""Measured 1e-3 of the sum of |H dl|: holds in the weak sense only, as fine as the mesh is."""
LEAST_ENERGY = 2e-7
"""Measured 5e-8: difference quotient over 0.1 % of the remanence either way."""
SCALED = 3e-4
"""Measured 1e-12 where the mesher repeats its mesh, 1.4e-5 where it finds another one; two
default meshes of this motor may differ by half their error of 5e-4."""
MIRRORED = 3e-4
"""Measured 8e-5, 6e-7 on another mesh; as above."""
REVERSED = 1e-9
"""Measured 0: the same equations with all signs reversed."""
DOUBLED_BOUNDARY = 3e-5
"""Measured 7e-6 on a mesh fine enough that the mesh does not decide."""

KINDS = ("outside-magnet", "inside-magnet")
POSITIONS = (-0.3, 0.0, 0.3)
"""Displacements over the winding height."""


@functools.cache
def solved(kind: str) -> MotorResult:
    """Return the solved starter motor of a kind."""
    return motor.solve(motor.starter(kind))


def winding_points(coil: Coil, middle: float) -> tuple[Floats, Floats, Floats]:
    """Return points in a winding's section and weights that sum to 1."""
    x, w = np.polynomial.legendre.leggauss(4)
    pieces = 400
    edges = middle + coil.winding_height * (np.arange(pieces) / pieces - 0.5)
    z = (edges[:, None] + coil.winding_height / pieces * (1 + x) / 2).ravel()
    radii = coil.mean_radius + coil.build_up / 2 * x
    r, z = (a.ravel() for a in np.meshgrid(radii, z, indexing="ij"))
    share = np.outer(w, np.tile(w, pieces)).ravel()
    return r, z, share / share.sum()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", POSITIONS)
def test_force_factor_three_ways(kind: str, share: float) -> None:
    result = solved(kind)
    coil, field = result.design.coil, result.field
    x = share * coil.winding_height
    bl = float(result.bl_curve(x))

    def linkage(displacement: float) -> float:
        r, z, w = winding_points(coil, coil.rest_position + displacement)
        return 2 * math.pi * coil.turns * float(w @ field.flux_function(r, z))

    step = 1e-3 * coil.winding_height
    slope = (linkage(x + step) - linkage(x - step)) / (2 * step)
    what = f"{kind} motor at {share:+g} winding heights: |Bl| (T m)"
    check(what, FARADAY, abs(slope), bl, THREE_WAYS)
    r, z, w = winding_points(coil, coil.rest_position + x)
    radial = 2 * math.pi * coil.turns * float(w @ (r * field.flux_density(r, z)[:, 0]))
    check(what, LORENTZ, abs(radial), bl, THREE_WAYS)


def without_current(result: MotorResult, position: float) -> FieldOnMesh:
    """Return the magnets' field on the mesh that the loaded field at a position is solved on."""
    mesh = loaded_mesh(result.field, result.design.coil, np.array([position])).finer()
    start = carried(result.field.fine, mesh)
    return replace(start, solution=start.solver.solve(start.solution.reduced))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", POSITIONS)
def test_small_current(kind: str, share: float) -> None:
    result = solved(kind)
    coil = result.design.coil
    x = share * coil.winding_height
    level = without_current(result, x)
    goal = force_goal(coil, coil.rest_position + x)(level)
    bl = coil.turns_in_series * abs(float(goal @ level.solution.reduced))
    loaded = loaded_coil(result.field, coil, x, 0.1)
    what = f"{kind} motor at {share:+g} winding heights, 0.1 A: force per ampere (N/A)"
    check(what, RECIPROCITY, bl, loaded.force_factor.value, SMALL_CURRENT)


@pytest.mark.parametrize("kind", KINDS)
def test_even_part_of_the_force(kind: str) -> None:
    result = solved(kind)
    coil, level = result.design.coil, without_current(result, 0.0)
    solver = level.solver

    def inductance(displacement: float) -> float:
        load = coil_load(level, coil, coil.rest_position + displacement, coil.turns)
        return 2 * math.pi * float(load @ solver.solve_tangent(load))

    step = 0.01 * coil.winding_height
    slope = (inductance(step) - inductance(-step)) / (2 * step)
    current = 0.3
    loaded = loaded_coil(result.field, coil, 0.0, current)
    expected = current**2 / 2 * slope
    what = f"{kind} motor at rest, {current:g} A: even part of the force (N)"
    check(what, COENERGY, expected, loaded.reluctance_force.value, EVEN_FORCE)


@pytest.mark.parametrize("kind", KINDS)
def test_mean_flux_of_the_magnet(kind: str) -> None:
    result = solved(kind)
    for region in result.design.regions:
        if region.magnetisation is None:
            continue
        low, high = (f(z for _, z in region.outline) for f in (min, max))
        inner, outer = (f(r for r, _ in region.outline) for f in (min, max))
        flux = mean_over(result.field.fine, region.name)[1] * math.pi * (outer**2 - inner**2)
        heights = np.linspace(low, high, 2001)
        psi = result.field.flux_function(np.array([[inner], [outer]]), heights)
        mean = 2 * math.pi * np.trapezoid(psi[1] - psi[0], heights) / (high - low)
        check(f"{kind} motor: mean flux of the {region.name} (Wb)", GAUSS, flux, mean, MEAN_FLUX)
        edges = np.linspace(inner, outer, 20001)
        r = (edges[1:] + edges[:-1]) / 2
        b_z = result.field.flux_density(r, (low + high) / 2)[:, 1]
        expected = 2 * math.pi * float((r * b_z * np.diff(edges)).sum())
        middle = magnet_flux(result.field.fine, result.field, region.name)
        what = f"{kind} motor: mid-plane flux of the {region.name} (Wb)"
        check(what, GAUSS, expected, middle, PLANE_FLUX)


def field_strength(
    level: FieldOnMesh,
    steels: dict[str, BHCurve],
    magnets: dict[str, MagnetState],
    r: Floats,
    z: Floats,
) -> Floats:
    """Return (H_r, H_z) at points in A/m."""
    b = level.flux_density(r, z)
    size = np.maximum(np.hypot(b[:, 0], b[:, 1]), 1e-9)
    names = np.array(level.system.mesh.names)[level.system.mesh.label[level.locate(r, z)[0]]]
    h = NU0 * b
    for name, curve in steels.items():
        here = names == name
        h[here] = b[here] * (curve.field_and_slope(size[here])[0] / size[here])[:, None]
    for name, magnet in magnets.items():
        here = names == name
        h[here] = NU0 / magnet.recoil_permeability * (b[here] - np.array(magnet.remanence))
    return h


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("ampere_turns", [0.0, 300.0])
def test_circulation(kind: str, ampere_turns: float) -> None:
    result = solved(kind)
    design = result.design
    steels, magnets = field_materials(design)
    level, coil = result.field.fine, design.coil
    load = coil_load(level, coil, coil.rest_position, ampere_turns)
    solution = Solver(level.system).solve(level.solution.reduced, extra_load=load)
    level = FieldOnMesh(level.system, level.solver, solution)
    points = [p for region in design.regions for p in region.outline]
    reach, top = max(r for r, _ in points), max(z for _, z in points)
    bottom = min(z for _, z in points)
    left, right = 0.5 * coil.inner_radius, 0.9 * reach
    low, high = bottom + 0.03 * (top - bottom), coil.rest_position + 0.7 * coil.winding_height
    corners = [(left, low), (right, low), (right, high), (left, high), (left, low)]
    total, parts = 0.0, 0.0
    for (r0, z0), (r1, z1) in itertools.pairwise(corners):
        t = (np.arange(20000) + 0.5) / 20000
        h = field_strength(level, steels, magnets, r0 + t * (r1 - r0), z0 + t * (z1 - z0))
        along = h @ np.array([r1 - r0, z1 - z0]) / len(t)
        total += float(along.sum())
        parts += float(np.abs(along).sum())
    what = f"{kind} motor, {ampere_turns:g} ampere-turns: circulation of H over the sum of |H dl|"
    check(what, AMPERE, 0.0 - ampere_turns / parts, total / parts, CIRCULATION, relative=False)


@pytest.mark.parametrize("kind", KINDS)
def test_derivative_of_the_least_energy(kind: str) -> None:
    result = solved(kind)
    steels, magnets = field_materials(result.design)
    step, energies = 1e-3, []
    for factor in (1 - step, 1 + step):
        scaled = {
            name: MagnetState(
                (factor * m.remanence[0], factor * m.remanence[1]), m.recoil_permeability
            )
            for name, m in magnets.items()
        }
        system = Discretisation(result.field.fine.system.mesh, steels, scaled)
        solver = Solver(system)
        level = FieldOnMesh(system, solver, solver.solve(result.field.fine.solution.reduced))
        energies.append(least_energy(level, steels, scaled))
    slope = (energies[1] - energies[0]) / (2 * step)
    level, expected = result.field.fine, 0.0
    for name, m in magnets.items():
        here = level.system.mesh.triangles_of(name)
        volume = 2 * math.pi * level.system.weight[here].sum()
        pull = float(mean_over(level, name) @ np.array(m.remanence))
        expected -= pull * volume / (MU0 * m.recoil_permeability)
    what = f"{kind} motor: Br dE/dBr (J)"
    check(what, ENVELOPE, expected, slope, LEAST_ENERGY)


def turned(regions: tuple[Region, ...], factor: float, up: float) -> tuple[Region, ...]:
    """Return regions scaled in length and, with up = -1, mirrored in z."""
    return tuple(
        Region(
            region.name,
            region.role,
            tuple((factor * r, factor * up * z) for r, z in region.outline),
            magnetisation=region.magnetisation,
        )
        for region in regions
    )


def force_factors(
    factor: float = 1.0,
    up: float = 1.0,
    magnet: float = 1.0,
    sizing: Sizing | None = None,
    outer_ratio: float = OUTER_RATIO,
) -> tuple[Field, Floats]:
    """Return field and Bl per turn of the reference motor, changed, at seven displacements."""
    curve = steel_named("low-carbon-a").curve()
    magnets = {
        name: MagnetState((0.0, magnet * m.remanence[1]), m.recoil_permeability)
        for name, m in MAGNETS.items()
    }
    low, high = sorted((factor * up * GAP.bottom, factor * up * GAP.top))
    gap = Gap(factor * GAP.inner_radius, factor * GAP.outer_radius, low, high)
    field = solve_field(
        turned(MOTOR, factor, up),
        gap,
        {"yoke": curve, "top_plate": curve},
        magnets,
        sizing=sizing,
        outer_ratio=outer_ratio,
    )
    middle, height = (low + high) / 2, 2 * gap.depth
    radius = factor * COIL_RADIUS
    profile = flux_profile(
        field, radius, radius, middle - 1.5 * height, middle + 1.5 * height, height / 120
    )
    x = np.linspace(-0.5, 0.5, 7) * height
    return field, profile.force_factor(middle + x, height, 1)


@functools.cache
def plain() -> tuple[Field, Floats]:
    return force_factors()


def worst(got: Floats, expected: Floats) -> float:
    """Return the largest difference over the largest expected value."""
    return float(np.abs(got - expected).max() / np.abs(expected).max())


def test_scaling() -> None:
    field, bl = plain()
    doubled, doubled_bl = force_factors(factor=2.0)
    difference = worst(doubled_bl, 2 * bl)
    check(
        "Bl per turn at seven displacements: largest difference",
        SCALING,
        0.0,
        difference,
        SCALED,
        relative=False,
    )
    r, z = COIL_RADIUS, np.linspace(GAP.bottom, GAP.top, 11)
    difference = worst(doubled.flux_density(2 * r, 2 * z), field.flux_density(r, z))
    check(
        "B at eleven points along the gap: largest difference",
        SCALING,
        0.0,
        difference,
        SCALED,
        relative=False,
    )


def test_mirror() -> None:
    bl = plain()[1]
    mirrored = force_factors(up=-1.0, magnet=-1.0)[1]
    check(
        "mirrored motor, Bl at seven displacements: largest difference",
        MIRROR,
        0.0,
        worst(mirrored[::-1], bl),
        MIRRORED,
        relative=False,
    )


def test_polarity() -> None:
    bl = plain()[1]
    check(
        "reversed motor, Bl at seven displacements: largest difference",
        POLARITY,
        0.0,
        worst(-force_factors(magnet=-1.0)[1], bl),
        REVERSED,
        relative=False,
    )


def test_outer_boundary() -> None:
    sizing = Sizing(at_gap=0.2, away=0.15, growth=0.4, largest=0.06, layers=3)
    near = force_factors(sizing=sizing)[1]
    far = force_factors(sizing=sizing, outer_ratio=2 * OUTER_RATIO)[1]
    check(
        "Bl at seven displacements: largest difference",
        BOUNDARY,
        0.0,
        worst(near, far),
        DOUBLED_BOUNDARY,
        relative=False,
    )
