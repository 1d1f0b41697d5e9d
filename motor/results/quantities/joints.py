"""Figures of the joints that hold a motor together."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from geometries import Region, Role
from motor.base.quantity import Line, Quantity
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.results.forces import Joint
    from motor.results.motor_result import MotorResult

__all__ = ["JOINTS", "force_quantities", "force_quantity", "part_forces"]

SECTION = "Motor"
NAMED = re.compile(r"force_on_(?P<part>.+)_N|pull_at_(?P<pair>.+)_N")
AND = "_and_"
"""Between the two parts of a joint in its figure's name."""


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


def _on_part(name: str) -> Quantity[MotorResult]:
    """Return the force on a part as a figure."""

    def read(result: MotorResult) -> Estimate | None:
        parts = () if result.forces is None else result.forces.parts
        return next((part.force for part in parts if part.region == name), None)

    return Quantity(
        name=f"force_on_{name}",
        unit="N",
        words=f"magnetic force on {name.replace('_', ' ')}",
        read=read,
        uncertain=True,
        criterion="axial, outwards positive, as if a thin slit parted it from its neighbours",
    )


def _at_joint(pair: str) -> Quantity[MotorResult]:
    """Return the pull at a joint as a figure; ``pair`` holds the lower and the upper part."""

    def read(result: MotorResult) -> Estimate | None:
        joints = () if result.forces is None else result.forces.joints
        return next((j.pull for j in joints if AND.join(j.between) == pair), None)

    return Quantity(
        name=f"pull_at_{pair}",
        unit="N",
        words=f"magnetic pull at the joint of {pair.replace('_', ' ')}",
        read=read,
        uncertain=True,
        criterion="axial, together positive (compression), below 0 tension; none where statics "
        "cannot tell",
        better="more",
    )


def force_quantity(key: str) -> Quantity[MotorResult] | None:
    """Return the figure of one part or joint by its name with the unit, or None."""
    found = NAMED.fullmatch(key)
    if found is None or key.endswith("_uncertainty_N"):
        return None
    return _on_part(found["part"]) if found["part"] else _at_joint(found["pair"])


def force_quantities(regions: Sequence[Region]) -> list[Quantity[MotorResult]]:
    """Return the figures of all steel and magnets, and of all joints that these could have."""
    active = [r for r in regions if r.role is not Role.CONDUCTOR]
    place = {r.name: float(np.mean([z for _, z in r.outline])) for r in active}
    names = sorted(place, key=lambda name: (place[name], name))
    pairs = (AND.join(pair) for pair in itertools.combinations(names, 2))
    return [*map(_on_part, (r.name for r in active)), *map(_at_joint, pairs)]


def part_forces(result: MotorResult) -> list[Quantity[MotorResult]]:
    """Return the figures of the parts and joints that a motor has."""
    if result.forces is None:
        return []
    touching = {AND.join(joint.between) for joint in result.forces.joints}
    pulls = {_at_joint(pair).key for pair in touching}
    return [
        q
        for q in force_quantities(result.design.regions)
        if q.name.startswith("force_on_") or q.key in pulls
    ]
