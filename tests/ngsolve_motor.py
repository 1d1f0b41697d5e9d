"""The motor's field in NGSolve: its energy as one form, and Bl from the potential.

The mesh may be in any unit of length; its materials are the names of the regions.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.interpolate import make_interp_spline

from motor.base.constants import NU0
from motor.design.coil import Coil
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve

__all__ = ["energy_form", "force_factor", "spline_of"]

KNOTS = np.concatenate(
    [
        [0.0, 0.005, 0.01, 0.02, 0.035],
        np.linspace(0.05, 1.0, 20),
        np.linspace(1.02, 2.4, 70),
        np.linspace(2.5, 3.1, 7),
        [3.3, 3.5, 4.0, 5.0, 8.0],
    ]
)
"""Flux densities in T between which H is cubic.  The library looks its place up one by one, so
few are faster; four times as many move Bl of the inside-magnet starter by 2e-8."""


def spline_of(curve: BHCurve) -> Any:
    """Return H in A/m as a cubic of B in T, a function that NGSolve can differentiate."""
    import ngsolve

    cubic = make_interp_spline(KNOTS, curve.field_and_slope(KNOTS)[0], k=3)
    return ngsolve.BSpline(4, cubic.t.tolist(), cubic.c.tolist())


def energy_form(
    mesh: Any,
    steels: dict[str, BHCurve],
    magnets: dict[str, MagnetState],
    *,
    order: int,
    extra_order: int = 0,
) -> Any:
    """Return the energy of air, magnets and steel as a form of the potential, 0 on the outside.

    Parameters
    ----------
    mesh : ngsolve.Mesh
        Half plane with the boundaries "axis" and "outer".
    steels, magnets : dict
        H(B) curve or state by the name of the region; all else is air.
    order : int
        Order of the elements.
    extra_order : int
        What the quadrature in steel has beyond the order that elements ask for.
    """
    import ngsolve

    space = ngsolve.H1(mesh, order=order, dirichlet="axis|outer")
    u = space.TrialFunction()
    r = ngsolve.x
    grad = ngsolve.grad(u)
    b_r, b_z = -grad[1], grad[0] + u / r
    square = b_r**2 + b_z**2
    form = ngsolve.BilinearForm(space, symmetric=True)
    linear = "|".join(n for n in mesh.GetMaterials() if n not in steels and n not in magnets)
    form += ngsolve.Variation(0.5 * NU0 * square * r * ngsolve.dx(linear))
    for name, magnet in magnets.items():
        m_r, m_z = magnet.remanence
        energy = NU0 / magnet.recoil_permeability * (square / 2 - m_r * b_r - m_z * b_z)
        form += ngsolve.Variation(energy * r * ngsolve.dx(name))
    for name, curve in steels.items():
        law = spline_of(curve).Integrate()
        size = ngsolve.sqrt(square + 1e-16)
        form += ngsolve.Variation(law(size) * r * ngsolve.dx(name, bonus_intorder=extra_order))
    return form


def force_factor(
    mesh: Any, potential: Any, coil: Coil, middle: float, per_metre: float = 1.0
) -> float:
    """Return the size of Bl in T m of a coil whose main winding's middle is at a height in metres.

    The mesh has so many units of length to the metre.
    """
    points, weights = np.polynomial.legendre.leggauss(4)

    def linkage(one: Coil, z: float) -> float:
        radii = per_metre * (one.mean_radius + one.build_up / 2 * points)
        values = np.array([potential(mesh(r, per_metre * z)) * r for r in radii])
        return float(weights @ values) / 2 / per_metre**2

    total = 0.0
    for one, turns in zip(coil.each, coil.ampere_turns, strict=True):
        at, half = middle + one.rest_position - coil.rest_position, one.winding_height / 2
        cut = linkage(one, at - half) - linkage(one, at + half)
        total += 2 * math.pi * turns / one.winding_height * cut
    return abs(total)
