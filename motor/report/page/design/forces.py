"""The page's section on what holds the motor together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motor.report.figures.forces import plot_forces
from motor.report.page.assembling import Grid
from motor.report.page.pictures import picture
from motor.report.style import sheet
from motor.report.tables.forces import CAUTION, GRAVITY

if TYPE_CHECKING:
    from markupsafe import Markup

    from motor.results.motor_result import MotorResult

__all__ = ["ForceSection", "force_section"]


@dataclass(frozen=True)
class ForceSection:
    """Words, a picture, and tables of parts and joints."""

    words: str
    picture: Markup
    parts: Grid
    joints: Grid


def _known(spread: float) -> str:
    """Return an uncertainty as a number; nothing where it is not known."""
    return f"{spread:.2g}" if math.isfinite(spread) else ""


def force_section(result: MotorResult) -> ForceSection | None:
    """Return the magnetic forces on parts and joints; None without steel that holds the motor."""
    forces = result.forces
    if forces is None:
        return None
    figure, axes = sheet(1, 1, width=6.5, height=4.6)
    plot_forces(forces, ax=axes[0, 0])
    parts = [
        (
            part.region.replace("_", " "),
            f"{part.force.value:+.4g}",
            _known(part.force.uncertainty),
            f"{1e3 * result.masses[part.region]:.4g}",
        )
        for part in forces.parts
    ]
    joints = []
    for joint in forces.joints:
        name = " and ".join(joint.between).replace("_", " ")
        mass = sum(result.masses[part] for part in joint.outer)
        pull = joint.pull
        cells = ("not known", "", "", "")
        if pull is not None:
            cells = (
                f"{pull.value:+.4g}",
                _known(pull.uncertainty),
                f"{1e3 * mass:.4g}",
                f"{max(pull.value, 0.0) / mass / GRAVITY:.3g}",
            )
        joints.append((name, *cells))
    held = forces.holder.replace("_", " ")
    return ForceSection(
        words="Axial magnetic force on each part, positive outwards, the motor held by its "
        f"{held}; and what draws each joint together. Up to the acceleration in the last column "
        f"the magnets hold the joint without glue. {CAUTION}",
        picture=picture(figure),
        parts=Grid(("part", "force N", "±", "mass g"), parts, ("force N", "±", "mass g")),
        joints=Grid(
            ("joint", "together N", "±", "mass beyond g", "held to g"),
            joints,
            ("together N", "±", "mass beyond g", "held to g"),
        ),
    )
