"""The motor's field in NGSolve: its energy as one form, and Bl from the potential.

The mesh may be in any unit of length; its materials are the names of the regions.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from motor.base.arrays import Floats
from motor.design.coil import Coil
from motor.field.weak_form import MagnetState
from motor.materials import NU0, BHCurve

__all__ = ["energy_form", "force_factor"]


def energy_form(
    mesh: Any,
    steels: dict[str, BHCurve],
    magnets: dict[str, MagnetState],
    samples: Floats,
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
    samples : numpy.ndarray
        Flux densities in T between which H is straight.
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
        h = curve.field_and_slope(samples)[0]
        law = ngsolve.BSpline(2, [0.0, *samples.tolist()], h.tolist()).Integrate()
        size = ngsolve.sqrt(square + 1e-16)
        form += ngsolve.Variation(law(size) * r * ngsolve.dx(name, bonus_intorder=extra_order))
    return form


def force_factor(
    mesh: Any, potential: Any, coil: Coil, middle: float, per_metre: float = 1.0
) -> float:
    """Return the size of Bl in T m of a winding whose middle is at a height in metres.

    The mesh has so many units of length to the metre.
    """
    points, weights = np.polynomial.legendre.leggauss(4)
    radii = per_metre * (coil.mean_radius + coil.build_up / 2 * points)

    def linkage(z: float) -> float:
        values = np.array([potential(mesh(r, per_metre * z)) * r for r in radii])
        return float(weights @ values) / 2 / per_metre**2

    half = coil.winding_height / 2
    turns_per_metre = coil.turns_in_series / coil.winding_height
    return abs(2 * math.pi * turns_per_metre * (linkage(middle - half) - linkage(middle + half)))
