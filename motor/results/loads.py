"""What holds a motor together: forces on parts and joints, inertia, and the strength of joints."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geometries import InvalidInput
from motor.base.json_numbers import finite
from motor.base.names import near_names
from motor.base.program import origin
from motor.results.forces import Joint, MotorForces, holder_of, motor_forces
from motor.results.inertia import Body, JointLoad, body_of, joint_load, together

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["STRENGTH", "MotorLoads", "motor_loads"]

STRENGTH = 5e6
"""Pa that a joint bears where nothing is told: invented, far below what glue makers print."""


@dataclass(frozen=True)
class MotorLoads:
    """Forces on a solved motor's parts and joints, and at a stated acceleration.

    Parameters
    ----------
    name : str
    forces : MotorForces
    bodies : mapping of part to Body
    acceleration : float or None
        m/s^2 along the axis.
    strength : float
        Of the joints, Pa.
    strength_given : bool
        Whether the strength is the user's and not the invented one.
    """

    name: str
    forces: MotorForces
    bodies: dict[str, Body]
    acceleration: float | None
    strength: float
    strength_given: bool

    @property
    def whole(self) -> Body:
        """The motor as one body."""
        return together(list(self.bodies.values()))

    @functools.cached_property
    def joint_loads(self) -> dict[tuple[str, str], JointLoad | None]:
        """The load on each joint at the acceleration; empty without one."""
        if self.acceleration is None:
            return {}
        a = self.acceleration
        return {j.between: joint_load(j, self.bodies, a) for j in self.forces.joints}

    def margin(self, joint: Joint) -> float | None:
        """Return the strength over the stress at a joint; None without acceleration."""
        load = self.joint_loads.get(joint.between)
        if load is None:
            return None
        return self.strength / load.stress if load.stress else math.inf

    @property
    def notes(self) -> list[str]:
        """What the figures leave out, and joints that do not hold."""
        found = [
            f"the joint of {_spoken(j)} is one of several ways by which its parts hang together: "
            "statics cannot tell its share"
            for j in self.forces.joints
            if j.pull is None
        ]
        for joint in self.forces.joints:
            margin = self.margin(joint)
            if margin is not None and margin < 1:
                told = "stated" if self.strength_given else "invented"
                found.append(
                    f"the joint of {_spoken(joint)} is loaded beyond its {told} strength of "
                    f"{self.strength / 1e6:.3g} MPa"
                )
        return found

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON."""
        whole = self.whole
        record: dict[str, Any] = {
            **origin(),
            "name": self.name,
            "held_by": self.forces.holder,
            "sum_of_forces_N": self.forces.sum,
            "mass_g": whole.mass * 1e3,
            "centre_of_gravity_mm": whole.height * 1e3,
            "inertia_about_axis_kg_m2": whole.about_axis,
            "inertia_across_kg_m2": whole.across,
            "parts": [self._part(part.region, part.force) for part in self.forces.parts],
            "joints": [self._joint(joint) for joint in self.forces.joints],
            "notes": self.notes,
        }
        if self.acceleration is not None:
            record["acceleration_m_per_s2"] = self.acceleration
            record["strength_MPa"] = self.strength / 1e6
            record["strength_given"] = self.strength_given
        return record

    def _part(self, region: str, force: Any) -> dict[str, Any]:
        body = self.bodies[region]
        row: dict[str, Any] = {
            "name": region,
            "force_N": force.value,
            "force_uncertainty_N": finite(force.uncertainty),
            "mass_g": body.mass * 1e3,
            "centre_of_gravity_mm": body.height * 1e3,
        }
        if self.acceleration is not None:
            row["inertial_force_N"] = body.mass * self.acceleration
        return row

    def _joint(self, joint: Joint) -> dict[str, Any]:
        pull, load = joint.pull, self.joint_loads.get(joint.between)
        row: dict[str, Any] = {
            "between": list(joint.between),
            "force_N": None if pull is None else abs(pull.value),
            "force_uncertainty_N": None if pull is None else finite(pull.uncertainty),
            "tension": joint.tension,
            "area_mm2": joint.area * 1e6,
            "beyond": list(joint.outer),
        }
        if self.acceleration is not None:
            row |= {
                "inertial_force_N": None if load is None else load.inertial,
                "tension_left_N": None if load is None else load.tension,
                "stress_MPa": None if load is None else load.stress / 1e6,
                "strength_over_stress": finite(self.margin(joint)),
            }
        return row


def _spoken(joint: Joint) -> str:
    return " and ".join(name.replace("_", " ") for name in joint.between)


def motor_loads(
    result: MotorResult,
    *,
    acceleration: float | None = None,
    strength: float | None = None,
    holder: str | None = None,
) -> MotorLoads:
    """Return forces on parts and joints of a solved motor.

    Parameters
    ----------
    result : MotorResult
    acceleration : float or None
        Along the axis, m/s^2; both ways are looked at.
    strength : float or None
        Pa that joints bear; None for the invented :data:`STRENGTH`.
    holder : str or None
        Part that the basket holds; None for the steel around the gap.

    Raises
    ------
    InvalidInput
        For a part that there is not, or an acceleration or strength that is not above 0.
    """
    regions = result.design.regions
    names = [region.name for region in regions]
    if holder is not None and holder not in names:
        raise InvalidInput("holder", f"be a part ({near_names(holder, names)})", repr(holder))
    for word, value in (("acceleration", acceleration), ("strength", strength)):
        if value is not None and not value > 0:
            raise InvalidInput(word, "be greater than 0", value)
    held = holder or holder_of(regions, result.design.geometry.gap)
    materials = result.design.materials
    return MotorLoads(
        result.design.name,
        motor_forces(result.field, held),
        {r.name: body_of(r, materials.material_of(r).density) for r in regions},
        acceleration,
        STRENGTH if strength is None else strength,
        strength is not None,
    )
