"""The impedance of whole motors again by another finite-element library: NGSolve, third order.

Its own mesh with every side of steel, ring and winding cut finely, its own static solution, the
slope of H(B) about it as a tensor, complex amplitudes.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest

import motor
from geometries import Region, Ring
from motor.base.arrays import Complexes
from motor.base.constants import NU0
from motor.design.design import Design
from motor.field.meshing import Sizing
from motor.results.impedance import blocked_impedance, conductivity_of
from motor.results.motor_field import field_materials
from tests.ngsolve_motor import spline_of
from tests.verification.cases import box, winding
from tests.verification.checks import check
from tests.verification.test_ngsolve import (
    SOURCE,
    mesh_of,
    ngsolve,
    potential_of,
)

FREQUENCIES = (100.0, 1000.0)
EDGE = 0.35
"""Of the other mesh, mm; with half a millimetre its resistance at 1 kHz is up to 0.3 % off."""
AS_USED = {"inductance": 5e-3, "eddy resistance": 1.5e-2}
"""Measured 3e-3 and 1e-2, from the permeability that the solved field leaves: they go with a
finer solved field, not with further refinement at the surfaces."""
FINER = Sizing(at_gap=0.1, away=0.03, growth=0.3, largest=0.04, layers=3)
REFINED = {"inductance": 1.5e-3, "eddy resistance": 3e-3}
"""Measured 7e-4 and 9e-4."""


def ringed() -> Design:
    """Return an outside-magnet motor with a copper sleeve on its pole."""
    design = motor.starter("outside-magnet")
    sleeve = Ring(
        name="sleeve",
        inner_diameter=31e-3,
        outer_diameter=31.4e-3,
        bottom=-6e-3,
        height=11e-3,
    )
    return design.replace(geometry=dataclasses.replace(design.geometry, rings=(sleeve,)))


DESIGNS = {
    "outside magnet with a sleeve": ringed,
    "inside magnet": lambda: motor.starter("inside-magnet"),
}


def linkages(design: Design) -> Complexes:
    """Return flux linkage over current of the coil at rest in henry, one per frequency."""
    coil = design.coil
    low, high = (coil.rest_position + s * coil.winding_height / 2 for s in (-1, 1))
    outline = box(coil.inner_radius, coil.outer_radius, low, high)
    regions: tuple[Region, ...] = (*design.regions, winding("winding", outline))
    steels, magnets = field_materials(design)
    mesh = mesh_of(regions, EDGE)
    steady = potential_of(mesh, steels, magnets, mesh_of(design.regions))
    r = ngsolve.x
    slope = ngsolve.grad(steady)
    b_0 = (-slope[1], slope[0] + steady / r)
    size = ngsolve.sqrt(b_0[0] ** 2 + b_0[1] ** 2 + 1e-12)

    space = ngsolve.H1(mesh, order=3, dirichlet="axis|outer", complex=True)
    u, v = space.TnT()

    def flux(w: Any) -> tuple[Any, Any]:
        grad = ngsolve.grad(w)
        return -grad[1], grad[0] + w / r

    b_u, b_v = flux(u), flux(v)
    product = b_u[0] * b_v[0] + b_u[1] * b_v[1]
    along = (b_0[0] * b_u[0] + b_0[1] * b_u[1]) * (b_0[0] * b_v[0] + b_0[1] * b_v[1])
    stiffness = ngsolve.BilinearForm(space, symmetric=True)
    mass = ngsolve.BilinearForm(space, symmetric=True)
    for name in mesh.GetMaterials():
        here = ngsolve.dx(name, bonus_intorder=4 if name in steels else 1)
        if name in steels:
            law = spline_of(steels[name])
            nu, steep = law(size) / size, law.Differentiate()(size)
            stiffness += (nu * product + (steep - nu) / size**2 * along) * r * here
        else:
            permeability = magnets[name].recoil_permeability if name in magnets else 1.0
            stiffness += NU0 / permeability * product * r * here
    for region in design.regions:
        if conductivity_of(design, region):
            density = 1e-6 * conductivity_of(design, region)
            mass += density * u * v * r * ngsolve.dx(region.name)
    mass += 0.0 * u * v * r * ngsolve.dx  # the same pattern as the stiffness
    section = coil.winding_height * coil.build_up
    load = ngsolve.LinearForm(1e-3 / section * v * r * ngsolve.dx("winding")).Assemble()
    stiffness.Assemble()
    mass.Assemble()
    found = []
    for frequency in FREQUENCIES:
        whole = stiffness.mat.CreateMatrix()
        whole.AsVector().data = (
            stiffness.mat.AsVector() + 2j * math.pi * frequency * mass.mat.AsVector()
        )
        answer = load.vec.CreateVector()
        answer.data = whole.Inverse(space.FreeDofs(), inverse="sparsecholesky") * load.vec
        linked = complex(ngsolve.InnerProduct(answer, load.vec, conjugate=False))
        found.append(2 * math.pi * coil.turns_in_series**2 * linked * 1e-9)
    return np.array(found)


@pytest.mark.parametrize("name", DESIGNS)
def test_impedance_at_rest(name: str) -> None:
    design = DESIGNS[name]()
    exact = linkages(design)
    omega = 2 * math.pi * np.array(FREQUENCIES)
    expected = {"inductance": exact.real, "eddy resistance": -omega * exact.imag}
    default = blocked_impedance(motor.solve(design), [0.0], FREQUENCIES, permeability="slope")
    finer = blocked_impedance(
        motor.solve(design, sizing=FINER),
        [0.0],
        FREQUENCIES,
        skin=0.35,
        at_coil=0.1,
        permeability="slope",
    )
    for found, mesh, tolerances in ((default, "", AS_USED), (finer, ", finer mesh", REFINED)):
        got = {"inductance": found.inductance, "eddy resistance": found.eddy_resistance}
        for (quantity, tolerance), unit in zip(tolerances.items(), ("H", "ohm"), strict=True):
            for i, frequency in enumerate(FREQUENCIES):
                what = f"{name}, {quantity} at {frequency:g} Hz ({unit}){mesh}"
                check(what, SOURCE, expected[quantity][i], got[quantity][i, 0], tolerance)
