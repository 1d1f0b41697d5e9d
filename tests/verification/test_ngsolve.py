"""Whole motors solved again by another finite-element library, mesh generator and weak form.

Source: NGSolve and Netgen (J. Schoeberl, C++11 Implementation of Finite Elements in NGSolve,
ASC Report 30/2014, TU Wien; NETGEN, Computing and Visualization in Science 1, 1997, 41-52).
Third-order elements for the vector potential, graded to every corner of steel and magnet, least
energy by Newton's method, A = 0 on a circle 20 times as far as the motor reaches.  The steel is
the project's own H(B), as cubics of B between samples.
"""

from __future__ import annotations

import functools
import math
from typing import Any

import numpy as np
import pytest

import motor
from geometries import Region, Role
from motor.base.arrays import Floats
from motor.design.design import Design
from motor.field.meshing import Sizing
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult
from tests.ngsolve_motor import energy_form, force_factor
from tests.verification.cases import saturated
from tests.verification.checks import check, outside

ngsolve = pytest.importorskip("ngsolve")
occ = pytest.importorskip("netgen.occ")

SOURCE = outside("NGSolve, third order, its own mesh")

AS_USED = 1e-3
"""Measured 4e-4 on the default mesh, 1e-4 with the magnet inside."""
REFINED = 1e-4
"""Measured 4e-5 on a mesh with four times the unknowns."""

FAR = 20.0
"""Radius of the outer boundary over the motor's reach."""
TRUNCATED = 1e-5
"""Truncation error that this leaves."""
REFINED_SIZING = Sizing(at_gap=0.2, away=0.1, growth=0.35, largest=0.06, layers=3)


DESIGNS = {
    "outside magnet": lambda: motor.starter("outside-magnet"),
    "inside magnet": lambda: motor.starter("inside-magnet"),
    "inside magnet, saturated": saturated,
    "two gaps, split coil": lambda: motor.starter("two-gap"),
}


def mesh_of(regions: tuple[Region, ...], edge: float | None = None) -> Any:
    """Return the NGSolve mesh (millimetres), one material per region.

    With ``edge`` conductors are regions too and no side of any region is cut coarser than that.
    """
    points = np.array([p for region in regions for p in region.outline]) * 1e3
    middle = (points[:, 1].min() + points[:, 1].max()) / 2
    radius = FAR * float(np.hypot(points[:, 0], points[:, 1] - middle).max())
    plane = occ.WorkPlane()
    half = plane.MoveTo(0, -2 * radius).Rectangle(2 * radius, 4 * radius).Face()
    air = occ.WorkPlane().MoveTo(0, middle).Circle(radius).Face() * half
    bodies = []
    for region in regions:
        if region.role is Role.CONDUCTOR and edge is None:
            continue
        path = occ.WorkPlane().MoveTo(*(1e3 * c for c in region.outline[0]))
        for r, z in region.outline[1:]:
            path = path.LineTo(1e3 * r, 1e3 * z)
        body = path.Close().Face()
        body.faces.name = region.name
        air = air - body
        bodies.append(body)
    air.faces.name = "air"
    shape = occ.Glue([air, *bodies])
    for side in shape.edges:
        if abs(side.center.x) < 1e-6:
            side.name = "axis"
        elif math.hypot(side.center.x, side.center.y - middle) > 0.9 * radius:
            side.name = "outer"
        elif edge is not None:
            side.maxh = edge
    for vertex in shape.vertices:
        if vertex.p.x > 1e-6 and vertex.p.x < 0.5 * radius:
            vertex.maxh = 0.05
    for face in shape.faces:
        face.maxh = radius / 8 if face.name == "air" else radius / FAR / 12
    mesh = ngsolve.Mesh(occ.OCCGeometry(shape, dim=2).GenerateMesh(grading=0.25))
    return mesh.Curve(3)


def potential_of(
    mesh: Any, steels: dict[str, BHCurve], magnets: dict[str, MagnetState], rough: Any = None
) -> Any:
    """Return the vector potential in T mm, third order.

    Newton's method starts from the solution of second order on the rough mesh, if there is one,
    where its first steps cost less.  The last one moves the field by less than 1e-6 of its energy
    norm.
    """
    second = energy_form(rough or mesh, steels, magnets, order=2, extra_order=2)
    third = energy_form(mesh, steels, magnets, order=3, extra_order=4)
    coarse = _least_energy(second, ngsolve.GridFunction(second.space), tolerance=0.1)
    start = ngsolve.GridFunction(third.space)
    start.Set(coarse)
    return _least_energy(third, start, tolerance=1e-2)


def _least_energy(form: Any, start: Any, *, tolerance: float) -> Any:
    """Minimise from a grid function that is overwritten, and return it."""
    failed, _ = ngsolve.solvers.NewtonMinimization(
        form,
        start,
        maxerr=tolerance,
        maxit=60,
        linesearch=True,
        printing=False,
        inverse="sparsecholesky",
    )
    assert not failed
    return start


def force_factors(design: Design, x: Floats) -> Floats:
    """Return |Bl| in T m at displacements in metres."""
    steels, magnets = field_materials(design)
    mesh = mesh_of(design.regions)
    potential = potential_of(mesh, steels, magnets)
    coil = design.coil
    middles = coil.rest_position + x
    return np.array([force_factor(mesh, potential, coil, m, 1e3) for m in middles])


@functools.cache
def compared(name: str) -> tuple[MotorResult, MotorResult, Floats, Floats]:
    """Return the motor as solved by default and on a finer mesh, displacements, |Bl|."""
    design = DESIGNS[name]()
    result = motor.solve(design)
    stroke = result.stroke_82.symmetric.value
    x = np.array([-stroke, 0.0, stroke])
    finer = motor.solve(design, sizing=REFINED_SIZING)
    return result, finer, x, force_factors(design, x)


@pytest.mark.parametrize("name", DESIGNS)
def test_force_factor(name: str) -> None:
    result, finer, x, expected = compared(name)
    for label, i in (("at the inward 82 % stroke", 0), ("at rest", 1), ("at the outward one", 2)):
        what = f"{name}, Bl {label} (T m)"
        check(what, SOURCE, expected[i], float(result.bl_curve(x[i])), AS_USED)
        check(f"{what}, finer mesh", SOURCE, expected[i], float(finer.bl_curve(x[i])), REFINED)


def test_two_gaps_within_what_is_stated() -> None:
    """Each gap's mesh and the sum over both parts of the coil: at rest and at both strokes."""
    result, finer, x, expected = compared("two gaps, split coil")
    for solved in (result, finer):
        curve = solved.bl_curve
        stated = np.interp(x, curve.x, curve.uncertainty)
        assert (np.abs(curve(x) - expected) <= stated + TRUNCATED * expected).all()
        assert stated.max() < 1e-3 * expected.max()
