"""Magnetic forces along the axis on every part, and what its own attraction does to each joint.

Each part has a force of its own, in its joints that with an infinitely thin slit
(:mod:`motor.results.virtual_work`); all add up to zero, and the force on a group of parts that are
glued together is the sum of theirs.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import Gap, Region, Role
from motor.base.drawable import Drawable
from motor.field.field import Estimate, Field
from motor.results.virtual_work import Stress, stress_of

__all__ = ["Joint", "MotorForces", "PartForce", "force_estimate", "holder_of", "motor_forces"]

CHANGE, OWN, FLOOR = 1.35, 8e-4, 1.4e-4
"""Uncertainty of a part that touches another: times the change between the meshes, and shares of
the force itself and of all stress on the part."""
SCATTER, LOST = 0.145, 0.5
"""Further shares of all stress: times the scatter of the field's goal, and times what magnets have
lost."""
WITH_MAGNET = 1.35
"""What all of that is multiplied by where a magnet is among the parts."""
ROUTES, APART, FLOOR_APART = 0.66, 0.024, 2e-4
"""For a part that touches no other: times what the two routes differ by, times the mean root of
the change between the meshes and all stress (either route's change may be small by chance), and a
share of all stress.  All set on 168 random motors, whole and with a part apart, the last on 84
more."""


@dataclass(frozen=True)
class PartForce:
    """Axial magnetic force on one part, as if it could part from its neighbours.

    Parameters
    ----------
    region : str
    force : Estimate
        Newton, positive outwards (z).
    """

    region: str
    force: Estimate


@dataclass(frozen=True)
class Joint:
    """Two parts that touch.

    Parameters
    ----------
    between : (str, str)
        The lower and the upper one, by the middle of their outlines.
    area : float
        Of the surface on which they touch, m^2.
    flat : float
        Its area seen along the axis, m^2; the rest is cylindrical and carries shear.
    outer : tuple of str
        The parts beyond the joint, seen from the part that holds the motor; empty where the parts
        hang together another way too, so that the joint's share is not determined by statics.
    pull : Estimate or None
        Newton by which the parts are drawn together (below 0: driven apart) along the axis.
    """

    between: tuple[str, str]
    area: float
    flat: float
    outer: tuple[str, ...]
    pull: Estimate | None

    @property
    def tension(self) -> bool | None:
        """Whether the magnetic force pulls at the joint; None where statics cannot tell."""
        return None if self.pull is None else self.pull.value < 0


@dataclass(frozen=True)
class MotorForces(Drawable):
    """Axial magnetic forces on the parts of a motor.

    Parameters
    ----------
    regions : tuple of Region
    holder : str
        The part that holds the motor.
    parts : tuple of PartForce
    joints : tuple of Joint
    """

    regions: tuple[Region, ...]
    holder: str
    parts: tuple[PartForce, ...]
    joints: tuple[Joint, ...]

    @property
    def sum(self) -> float:
        """Sum of all forces in newton; 0 but for the numerical error."""
        return sum(part.force.value for part in self.parts)


def force_estimate(field: Field, moving: Collection[str]) -> Estimate:
    """Return the axial force on parts that move together; nan uncertain with one mesh only."""
    fine, coarse = (level.once(stress_of) for level in (field.fine, field.coarse))
    found = fine.routes(moving)
    if field.fine is field.coarse:
        return Estimate(found[0][0], math.nan)
    before = coarse.routes(moving)
    change, k = min((abs(found[k][0] - before[k][0]), k) for k in range(len(found)))
    value, gross = found[k]
    if len(found) > 1:
        spread = ROUTES * abs(found[0][0] - found[1][0]) + APART * math.sqrt(change * gross)
        return Estimate(value, spread + FLOOR_APART * gross)
    share = FLOOR + SCATTER * field.errors.scatter + LOST * field.errors.lost
    more = WITH_MAGNET if set(moving) & set(field.fine.system.magnets) else 1.0
    return Estimate(value, more * (CHANGE * change + OWN * abs(value) + share * gross))


def motor_forces(field: Field, holder: str) -> MotorForces:
    """Return the force on every part and across every joint.

    Parameters
    ----------
    field : Field
    holder : str
        Name of the region that is held, by the basket.
    """
    parts = tuple(PartForce(r.name, force_estimate(field, [r.name])) for r in field.regions)
    found = []
    touching = _hung(field.regions, _touching(field.regions, field.fine.once(stress_of)))
    for pair, (area, flat) in touching.items():
        beyond = _beyond(pair, list(touching), holder)
        pull = None
        if beyond:
            on_it = force_estimate(field, beyond)
            pull = on_it if pair[0] in beyond else Estimate(-on_it.value, on_it.uncertainty)
        found.append(Joint(pair, area, flat, beyond, pull))
    return MotorForces(field.regions, holder, parts, tuple(found))


def _touching(
    regions: Sequence[Region], stress: Stress
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the pairs of parts that touch, lower one first, with their area and its flat share."""
    place = {r.name: float(np.mean([z for _, z in r.outline])) for r in regions}
    sides, names = stress.sides, stress.names
    found: dict[tuple[str, str], tuple[float, float]] = {}
    pairs = zip(sides.first[sides.joints], sides.second[sides.joints], strict=True)
    for i, j in sorted({(int(i), int(j)) for i, j in pairs}):
        here = (sides.first == i) & (sides.second == j)
        low, high = sorted((names[i], names[j]), key=lambda name: (place[name], name))
        area, flat = found.get((low, high), (0.0, 0.0))
        found[low, high] = (
            area + float(sides.area[here].sum()),
            flat + float(sides.flat[here].sum()),
        )
    return found


def _hung(
    regions: Sequence[Region], touching: dict[tuple[str, str], tuple[float, float]]
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the joints that carry: a conducting ring hangs on the one part it touches most."""
    rings = {r.name for r in regions if r.role is Role.CONDUCTOR}
    kept = {pair: areas for pair, areas in touching.items() if not rings & {*pair}}
    for ring in sorted(rings):
        own = {p: v for p, v in touching.items() if ring in p and rings & {*p} == {ring}}
        if own:
            most = max(own, key=lambda pair: own[pair])
            kept[most] = own[most]
    return kept


def _beyond(cut: tuple[str, str], pairs: Sequence[tuple[str, str]], holder: str) -> tuple[str, ...]:
    """Return the parts that only the cut joint ties to the holder; none if there is another way."""
    held = _reached(holder, cut, pairs)
    sides = [name for name in cut if name not in held]
    return tuple(sorted(_reached(sides[0], cut, pairs))) if len(sides) == 1 else ()


def _reached(start: str, cut: tuple[str, str], pairs: Sequence[tuple[str, str]]) -> set[str]:
    """Return the parts that hang together with one, the cut joint left out."""
    found, edge = {start}, [start]
    while edge:
        here = edge.pop()
        for pair in pairs:
            if pair != cut and here in pair:
                other = pair[1] if pair[0] == here else pair[0]
                if other not in found:
                    found.add(other)
                    edge.append(other)
    return found


def holder_of(regions: Sequence[Region], gap: Gap) -> str:
    """Return the steel around the gap, which the basket is fixed to: common practice, no source."""
    near = [
        (min(abs(r - gap.outer_radius) for r, _ in region.outline), region.name)
        for region in regions
        if region.role is Role.STEEL
    ]
    return min(near)[1]
