"""Where the flux function is sampled along the coil's way, and Bl(x) from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geometries import Gap
from motor.design.coil import Coil
from motor.design.design import Design
from motor.field.field import Field
from motor.results.bl import BlCurve, bl_curve
from motor.results.profile import FluxProfile, flux_profile

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["PROFILE_STEPS", "sampled"]

PROFILE_STEPS = 12
"""Samples of the flux function per gap width along z."""

SLACK = 1e-4
"""How far beyond another's samples a design read off like it may reach, metres."""


def sampled(
    design: Design, field: Field, like: MotorResult | None = None
) -> tuple[list[FluxProfile], BlCurve]:
    """Return the flux function along the path of each winding, and Bl(x).

    With ``like``, the result of a design that differs by less than SLACK, samples lie where that
    one's lay.
    """
    coil, free = design.coil, design.contact
    if like is None:
        reach = max(_way_out(one, design.geometry.gap) for one in coil.each)
        inward, outward = min(reach, free.inward), min(reach, free.outward)
        spacing = design.geometry.gap.width / PROFILE_STEPS
        paths = [(one.bottom - inward, one.top + outward, spacing) for one in coil.each]
    else:
        inward, outward = -like.bl_curve.x[0], like.bl_curve.x[-1]
        paths = [_like(profile) for profile in (like.profile, *like.further_profiles)]
    profiles = [
        flux_profile(field, one.inner_radius, one.outer_radius, *path)
        for one, path in zip(coil.each, paths, strict=True)
    ]
    windings = [
        (profile, one.winding_height, turns, one.rest_position - coil.rest_position)
        for profile, one, turns in zip(profiles, coil.each, coil.ampere_turns, strict=True)
    ]
    curve = bl_curve(*windings[0][:3], coil.rest_position, inward, outward, further=windings[1:])
    return profiles, curve


def _way_out(winding: Coil, gap: Gap) -> float:
    """Return the displacement that takes a winding out of the nearest gap, metres."""
    middle = winding.rest_position
    gap = min(gap.all, key=lambda g: abs(middle - g.middle))
    offset = abs(middle - gap.middle)
    return (winding.winding_height + gap.depth) / 2 + 2 * gap.width + offset


def _like(profile: FluxProfile) -> tuple[float, float, float]:
    """Return lowest and highest place and spacing of samples that lie like another's."""
    low, high = profile.z[0] - SLACK, profile.z[-1] + SLACK
    return low, high, (high - low) / (len(profile.z) - 0.5)
