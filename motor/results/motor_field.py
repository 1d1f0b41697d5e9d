"""The magnets' field of a design: its materials, the goal it is judged by, what magnets lose."""

from __future__ import annotations

from typing import Any

from geometries import Role
from motor.base.steps import step
from motor.design.design import Design
from motor.field.field import Field
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve
from motor.results.magnet_state import demagnetised
from motor.results.profile import bl_goal

__all__ = ["field_materials", "solved_field"]


def field_materials(design: Design) -> tuple[dict[str, BHCurve], dict[str, MagnetState]]:
    """Return what the field solver needs to know of each steel and magnet region."""
    steels, magnets = {}, {}
    for region in design.regions:
        if region.role is Role.STEEL:
            steels[region.name] = design.materials.steel_of(region.name).curve()
        elif region.role is Role.MAGNET:
            grade = design.materials.magnet_of(region.name)
            remanence = grade.remanence_at(design.temperature_of(region.name))
            assert region.magnetisation is not None
            m_r, m_z = region.magnetisation
            magnets[region.name] = MagnetState(
                (remanence * m_r, remanence * m_z), grade.recoil_permeability
            )
    return steels, magnets


def solved_field(design: Design, **options: Any) -> Field:
    """Return the field of a design, with what its magnets have lost for good.

    Parameters
    ----------
    design : Design
    options
        As for :func:`motor.field.solve.solve_field`.

    Raises
    ------
    InvalidInput, MeshError, SolveError
    """
    steels, magnets = field_materials(design)
    goal = bl_goal(design.coil)
    field = solve_field(design.regions, design.geometry.gap, steels, magnets, goal=goal, **options)
    if design.materials.demagnetisation == "ignored":
        return field
    grades = {name: design.materials.magnet_of(name) for name in magnets}
    with step("what magnets lose for good"):
        return demagnetised(field, grades, {name: design.temperature_of(name) for name in grades})
