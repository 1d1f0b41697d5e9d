"""The discretisation itself: order of convergence, and the same forms written plainly.

Sources: a manufactured solution (any smooth potential is the exact solution for the load that it
demands); orders 3 in the L2 norm and 2 in the energy norm for second-order triangles, e.g. S. C.
Brenner and L. R. Scott, The Mathematical Theory of Finite Element Methods, 3rd ed., chapter 5
(from memory); bilinear forms assembled by scikit-fem (T. Gustafsson and G. D. McBain, J. Open
Source Software 5(52), 2020, 2369).
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from scipy import sparse
from skfem import Basis, BilinearForm, ElementTriP2, LinearForm

import motor
from geometries import Gap
from motor.base.arrays import Floats
from motor.base.constants import NU0
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import Discretisation
from motor.materials import BHCurve, steel_named
from motor.results.motor_field import field_materials
from tests.verification.cases import MM, steel, winding
from tests.verification.checks import check, other_route, outside

ORDER_SOURCE = outside("order of second-order triangles (Brenner and Scott, from memory)")
FORMS_SOURCE = other_route("the same form assembled by scikit-fem")

LINEAR_ORDER = 0.08
"""Measured 0.03: meshes not yet fine enough for the last digit of the order."""
STEEL_ORDER = 0.15
"""Measured 0.04: as above, and H(B) is twice differentiable only."""
SAME_FORM = 1e-13
"""Measured 2e-14: rounding."""

BALL_RADIUS = 10 * MM
WIDTH = 3 * MM
"""The potential below is r exp(-(r^2 + z^2)/WIDTH^2): nothing of it is left at the ball's edge."""


def ball_mesh(role: str) -> MotorMesh:
    """Return a coarse, even mesh of a ball."""
    angle = np.linspace(-math.pi / 2, math.pi / 2, 13)
    outline = [(BALL_RADIUS * math.cos(t), BALL_RADIUS * math.sin(t)) for t in angle]
    body = steel("ball", outline) if role == "steel" else winding("ball", outline)
    gap = Gap(4 * MM, 6 * MM, -1 * MM, 1 * MM)
    sizing = Sizing(at_gap=1.0, away=0.0, growth=0.0, largest=0.2, layers=0)
    return generate(partition([body], gap, outer_ratio=1.2), sizing)


def exact(r: Floats, z: Floats, peak: float) -> tuple[Floats, Floats, Floats]:
    """Return A, B_r and B_z; B_z is ``peak`` (tesla) in the middle."""
    rho = (r**2 + z**2) / WIDTH**2
    a = peak / 2 * r * np.exp(-rho)
    return a, a * 2 * z / WIDTH**2, peak * np.exp(-rho) * (1 - r**2 / WIDTH**2)


def errors(mesh: MotorMesh, curve: BHCurve | None, peak: float) -> tuple[float, float]:
    """Return the errors in the L2 norm and in the norm of B on one mesh."""
    system = Discretisation(mesh, {"ball": curve} if curve else {}, {})
    basis = Basis(mesh.mesh, ElementTriP2(), intorder=8)
    in_ball = np.zeros(mesh.mesh.nelements, bool)
    in_ball[mesh.triangles_of("ball")] = True

    @LinearForm
    def load(v: Any, w: Any) -> Any:
        r, z = w.x
        _, b_r, b_z = exact(r, z, peak)
        nu = np.full_like(r, NU0)
        if curve is not None:
            size = np.maximum(np.hypot(b_r, b_z), 1e-12)
            h = curve.field_and_slope(size.ravel())[0].reshape(size.shape)
            nu[in_ball] = (h / size)[in_ball]
        return nu * (b_z * (v.grad[0] + v / r) - b_r * v.grad[1]) * r

    solver = Solver(system)
    solution = solver.solve(extra_load=load.assemble(basis)[system.free], tolerance=1e-10)
    found = basis.interpolate(system.expand(solution.reduced))
    r, z = np.asarray(basis.global_coordinates())
    a, b_r, b_z = exact(r, z, peak)
    value, grad = np.asarray(found), found.grad
    volume = basis.dx * r
    l2 = (volume * (value - a) ** 2).sum()
    energy = (volume * ((grad[1] + b_r) ** 2 + (grad[0] + value / r - b_z) ** 2)).sum()
    return math.sqrt(l2), math.sqrt(energy)


@pytest.mark.parametrize(
    ("what", "peak", "tolerance"), [("air", 1.0, LINEAR_ORDER), ("steel", 1.9, STEEL_ORDER)]
)
def test_order_of_convergence(what: str, peak: float, tolerance: float) -> None:
    curve = steel_named("low-carbon-a").curve() if what == "steel" else None
    mesh, found = ball_mesh(what), []
    for _ in range(4):
        found.append(errors(mesh, curve, peak))
        mesh = mesh.halved()
    orders = [np.log2(np.divide(a, b)) for a, b in itertools.pairwise(found)]
    name = f"manufactured solution in {what}: order of the"
    check(f"{name} L2 error", ORDER_SOURCE, 3.0, orders[-1][0], tolerance, relative=False)
    check(f"{name} error of B", ORDER_SOURCE, 2.0, orders[-1][1], tolerance, relative=False)


@BilinearForm
def plain_linear(u: Any, v: Any, w: Any) -> Any:
    """Return nu B(u) . B(v) r."""
    r = w.x[0]
    return w.nu * (u.grad[1] * v.grad[1] + (u.grad[0] + u / r) * (v.grad[0] + v / r)) * r


@BilinearForm
def plain_tangent(u: Any, v: Any, w: Any) -> Any:
    """Return dH(B) . B(v) r for a change u of the potential."""
    r = w.x[0]
    b_r, b_z = -w.a.grad[1], w.a.grad[0] + w.a / r
    u_r, u_z = -u.grad[1], u.grad[0] + u / r
    v_r, v_z = -v.grad[1], v.grad[0] + v / r
    along = (b_r * u_r + b_z * u_z) * (b_r * v_r + b_z * v_z) / (b_r**2 + b_z**2)
    return (w.nu * (u_r * v_r + u_z * v_z) + (w.slope - w.nu) * along) * r


@LinearForm
def plain_force(v: Any, w: Any) -> Any:
    """Return H(B) . B(v) r."""
    r = w.x[0]
    return w.nu * (w.a.grad[1] * v.grad[1] + (w.a.grad[0] + w.a / r) * (v.grad[0] + v / r)) * r


@LinearForm
def plain_magnet(v: Any, w: Any) -> Any:
    """Return nu Br . B(v) r."""
    return (w.m_z * (v.grad[0] + v / w.x[0]) - w.m_r * v.grad[1]) * w.x[0]


def whole(system: Discretisation, data: Floats) -> Any:
    """Return the matrix whose lower triangle a system stores as data."""
    n = system.size
    half = sparse.csc_matrix((data, system.indices, system.indptr), shape=(n, n))
    return half + sparse.tril(half, -1).T


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
def test_same_forms_in_scikit_fem(kind: str) -> None:
    design = motor.starter(kind)
    steels, magnets = field_materials(design)
    mesh = generate(partition(design.regions, design.geometry.gap), Sizing(layers=0))
    system = Discretisation(mesh, steels, magnets, orders=0)
    a = Solver(system).solve().reduced
    basis, free = system.basis, system.free
    full = basis.interpolate(system.expand(a))
    r = np.asarray(basis.global_coordinates())[0]
    size = np.hypot(full.grad[1], full.grad[0] + np.asarray(full) / r)
    nu, slope = np.full_like(r, NU0), np.full_like(r, NU0)
    linear, m_r, m_z = nu.copy(), np.zeros_like(r), np.zeros_like(r)
    for name, curve in steels.items():
        here = mesh.triangles_of(name)
        h, rise = curve.field_and_slope(size[here].ravel())
        nu[here], slope[here] = (
            h.reshape(size[here].shape) / size[here],
            rise.reshape(-1, r.shape[1]),
        )
        linear[here] = 0.0
    for name, magnet in magnets.items():
        here = mesh.triangles_of(name)
        linear[here] = nu[here] = slope[here] = NU0 / magnet.recoil_permeability
        m_r[here], m_z[here] = np.array(magnet.remanence) * NU0 / magnet.recoil_permeability
    state = system.steel_at(a)
    force, tangent = system.steel_force(state), system.steel_tangent(state)
    pairs = {
        "matrix of air and magnets": (
            plain_linear.assemble(basis, nu=linear),
            whole(system, system.linear),
        ),
        "tangent of the steel": (
            plain_tangent.assemble(basis, a=full, nu=nu, slope=slope)
            - plain_linear.assemble(basis, nu=linear),
            whole(system, tangent),
        ),
    }
    for what, (plain, ours) in pairs.items():
        plain = plain[free][:, free]
        difference = abs(plain - ours).max() / abs(plain).max()
        check(
            f"{kind} motor, {what}: largest difference of an entry over the largest entry",
            FORMS_SOURCE,
            0.0,
            difference,
            SAME_FORM,
            relative=False,
        )
    vectors = {
        "force of the steel": (
            plain_force.assemble(basis, a=full, nu=np.where(linear == 0, nu, 0.0)),
            force,
        ),
        "load of the magnets": (plain_magnet.assemble(basis, m_r=m_r, m_z=m_z), system.load),
    }
    for what, (plain, ours) in vectors.items():
        difference = np.abs(plain[free] - ours).max() / np.abs(plain).max()
        check(
            f"{kind} motor, {what}: largest difference of an entry over the largest entry",
            FORMS_SOURCE,
            0.0,
            difference,
            SAME_FORM,
            relative=False,
        )
