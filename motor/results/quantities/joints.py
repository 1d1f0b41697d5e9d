"""Figures of the joints that hold a motor together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motor.base.quantity import Line, Quantity
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.results.forces import Joint
    from motor.results.motor_result import MotorResult

__all__ = ["JOINTS"]

SECTION = "Motor"


def _pulls(result: MotorResult) -> list[tuple[Joint, Estimate]]:
    """Return the joints between magnets and steel whose pull statics can tell."""
    weights = result.field.fine.system
    active = {*weights.steels, *weights.magnets}
    joints = () if result.forces is None else result.forces.joints
    return [(j, j.pull) for j in joints if j.pull is not None and {*j.between} <= active]


def _least(result: MotorResult) -> Estimate | None:
    return min((pull for _, pull in _pulls(result)), key=lambda p: p.value, default=None)


def _held(result: MotorResult) -> Estimate | None:
    """Return the least acceleration at which a joint is no longer pressed together."""
    found = []
    for joint, pull in _pulls(result):
        mass = sum(result.masses[name] for name in joint.outer)
        found.append(Estimate(pull.value / mass, pull.uncertainty / mass))
    least = min(found, key=lambda e: e.value, default=None)
    if least is None or not math.isfinite(least.value):
        return None
    return least


JOINTS: tuple[Quantity[MotorResult], ...] = (
    Quantity(
        name="least_joint_pull",
        unit="N",
        words="least magnetic pull at a joint",
        read=_least,
        uncertain=True,
        criterion="axial, together positive; the glue bears what is below 0",
        better="more",
        offered=4,
        line=Line(SECTION),
        kind="force",
    ),
    Quantity(
        name="joint_held_to",
        unit="m_per_s2",
        words="acceleration that magnets hold",
        read=_held,
        uncertain=True,
        criterion="along the axis, until the first joint needs its glue",
        better="more",
        offered=4,
        line=Line(SECTION, digits=3),
        kind="acceleration",
    ),
)
