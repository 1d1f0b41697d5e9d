"""Shapes and solved fields that several verification tests share."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence

import numpy as np

import motor
from geometries import Gap, Point, Region, Role
from motor.base.arrays import Floats
from motor.base.constants import NU0
from motor.design.design import Design
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing, generate
from motor.field.newton import Solution, Solver
from motor.field.partition import OUTER_RATIO, partition
from motor.field.weak_form import Discretisation, MagnetState
from motor.materials import BHCurve

__all__ = [
    "MM",
    "box",
    "field_level",
    "least_energy",
    "magnet",
    "mean_over",
    "millimetre_box",
    "saturated",
    "steel",
    "winding",
]

MM = 1e-3


def box(inner: float, outer: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the outline of a rectangle given in metres."""
    return ((inner, low), (outer, low), (outer, high), (inner, high))


def millimetre_box(inner: float, outer: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the outline in metres of a rectangle given in millimetres."""
    return box(inner * MM, outer * MM, low * MM, high * MM)


def magnet(name: str, outline: Sequence[Point], direction: Point = (0.0, 1.0)) -> Region:
    """Return a magnet region."""
    return Region(name, Role.MAGNET, tuple(outline), magnetisation=direction)


def steel(name: str, outline: Sequence[Point]) -> Region:
    """Return a steel region."""
    return Region(name, Role.STEEL, tuple(outline))


def winding(name: str, outline: Sequence[Point]) -> Region:
    """Return a conductor region: an outline that the mesh follows, without any material effect."""
    return Region(name, Role.CONDUCTOR, tuple(outline), material="copper")


def field_level(
    regions: Sequence[Region],
    gap: Gap,
    steels: Mapping[str, BHCurve] | None = None,
    magnets: Mapping[str, MagnetState] | None = None,
    *,
    sizing: Sizing | None = None,
    outer_ratio: float = OUTER_RATIO,
    solve: bool = True,
) -> FieldOnMesh:
    """Return one level on the finer of the two default meshes.

    With ``solve`` false the potential is zero, for a current load to come.
    """
    mesh = generate(partition(regions, gap, outer_ratio=outer_ratio), sizing).halved()
    system = Discretisation(mesh, steels or {}, magnets or {})
    solver = Solver(system)
    if solve:
        return FieldOnMesh(system, solver, solver.solve())
    return FieldOnMesh(system, solver, Solution(np.zeros(system.size), (0.0,)))


def mean_over(level: FieldOnMesh, region: str) -> Floats:
    """Return the volume mean of (B_r, B_z) over a region in tesla."""
    here = level.system.mesh.triangles_of(region)
    b = level.system.flux_density(level.potential)[here].reshape(-1, 2)
    volume = level.system.weight[here].ravel()
    mean: Floats = volume @ b / volume.sum()
    return mean


def least_energy(
    level: FieldOnMesh, steels: Mapping[str, BHCurve], magnets: Mapping[str, MagnetState]
) -> float:
    """Return the energy functional at the solution in joule, the outer boundary's term included."""
    system = level.system
    b = system.flux_density(level.potential)
    size = np.hypot(b[..., 0], b[..., 1])
    density = NU0 / 2 * size**2
    for name, curve in steels.items():
        here = system.mesh.triangles_of(name)
        density[here] = curve.energy(size[here])
    for name, magnet in magnets.items():
        here = system.mesh.triangles_of(name)
        pull = b[here] @ np.array(magnet.remanence)
        density[here] = NU0 / magnet.recoil_permeability * (size[here] ** 2 / 2 - pull)
    inside = float((system.weight * density).sum())
    edge = level.solution.reduced[system.exterior.unknowns]
    outside = NU0 / 2 * float(edge @ system.exterior.matrix @ edge)
    return 2 * math.pi * (inside + outside)


def saturated() -> Design:
    """Return an inside-magnet motor with a strong magnet and steel much too thin for it."""
    design = motor.starter("inside-magnet")
    thin = {
        "pole_plate_thickness": 3.5e-3,
        "magnet_thickness": 8e-3,
        "cup_outer_diameter": 41e-3,
        "floor_thickness": 3e-3,
    }
    materials = dataclasses.replace(design.materials, magnet="N52")
    return design.replace(
        geometry=dataclasses.replace(design.geometry, **thin), materials=materials
    )
