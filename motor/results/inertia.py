"""Mass, centre of gravity and moments of inertia of parts, and what acceleration asks of joints."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geometries import Region
from motor.base.gauss import gauss
from motor.results.forces import Joint

__all__ = ["Body", "JointLoad", "body_of", "joint_load", "together"]

ON_A_SIDE = 4
"""Gauss points, exact to the seventh order."""


@dataclass(frozen=True)
class Body:
    """A rigid body that is round about the axis.

    Parameters
    ----------
    mass : float
        kg.
    height : float
        Of its centre of gravity above the middle of the gap, metres.
    about_axis : float
        Moment of inertia about the axis, kg m^2.
    across : float
        About a diameter through the centre of gravity, kg m^2.
    """

    mass: float
    height: float
    about_axis: float
    across: float


def body_of(region: Region, density: float) -> Body:
    """Return the solid of revolution of a region; density in kg/m^3.

    The integrals of r, r z, r z^2 and r^3 over a polygon by Green's theorem, exact.
    """
    volume = first = second = polar = 0.0
    points = region.outline
    for (r0, z0), (r1, z1) in zip(points, (*points[1:], points[0]), strict=True):
        # along each side: the integral over r of r^n is r^(n+1) / (n+1), times dz
        dz, dr = z1 - z0, r1 - r0
        for place, weight in zip(*(half.tolist() for half in gauss(ON_A_SIDE)), strict=True):
            r, z = (r0 + r1 + place * dr) / 2, (z0 + z1 + place * dz) / 2
            volume += weight / 2 * dz * r**2 / 2
            first += weight / 2 * dz * z * r**2 / 2
            second += weight / 2 * dz * z**2 * r**2 / 2
            polar += weight / 2 * dz * r**4 / 4
    sign = math.copysign(2 * math.pi * density, volume)
    mass, height = sign * volume, first / volume
    about_axis = sign * polar
    across = about_axis / 2 + sign * second - mass * height**2
    return Body(mass, height, about_axis, across)


def together(bodies: Sequence[Body]) -> Body:
    """Return several bodies on one axis as one (Huygens and Steiner)."""
    mass = sum(b.mass for b in bodies)
    height = sum(b.mass * b.height for b in bodies) / mass
    across = sum(b.across + b.mass * (b.height - height) ** 2 for b in bodies)
    return Body(mass, height, sum(b.about_axis for b in bodies), across)


@dataclass(frozen=True)
class JointLoad:
    """What a stated acceleration along the axis, in the worse direction, asks of a joint.

    Parameters
    ----------
    joint : Joint
    mass : float
        Of the parts beyond it, kg.
    inertial : float
        Newton, both ways.
    tension : float
        Largest pull that is left at the joint once the magnets hold it together, newton; 0 if
        they hold it altogether.  Their own uncertainty counts against the joint.
    stress : float
        That pull, and along a cylindrical joint all force, over the joint's area, Pa.
    """

    joint: Joint
    mass: float
    inertial: float
    tension: float
    stress: float


def joint_load(joint: Joint, bodies: Mapping[str, Body], acceleration: float) -> JointLoad | None:
    """Return the load on a joint at an acceleration in m/s^2; None where statics cannot tell."""
    if joint.pull is None:
        return None
    mass = sum(bodies[name].mass for name in joint.outer)
    inertial = mass * acceleration
    sure = joint.pull.value - (joint.pull.uncertainty if joint.pull.uncertainty > 0 else 0.0)
    tension = max(inertial - sure, 0.0)
    shear = joint.flat < 0.5 * joint.area
    force = inertial + abs(joint.pull.value) if shear else tension
    return JointLoad(joint, mass, inertial, tension, force / joint.area)
