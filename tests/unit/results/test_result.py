"""Figures of a solved motor against their definitions and against the field itself."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely

from geometries import polygon, registered
from motor.design.design import MovingParts
from motor.results.motor_result import MotorResult, read_off

MM = 1e-3
KINDS = sorted(registered())
Solved = Callable[[str], MotorResult]


@pytest.fixture(params=KINDS)
def result(request: pytest.FixtureRequest, solved: Solved) -> MotorResult:
    """Return the solved starter of each kind."""
    return solved(request.param)


def test_usable_stroke_is_the_least_limit(result: MotorResult) -> None:
    limits = {
        "bl_82": result.stroke_82.symmetric.value,
        "bl_70": result.stroke_70.symmetric.value,
        "overhang": abs(result.design.overhang),
        "mechanical": result.travel.limit,
    }
    usable = result.usable_stroke
    assert usable.value == min(limits.values()) == limits[usable.limited_by]


def test_moving_mass_and_resonance(result: MotorResult) -> None:
    assert result.moving_mass is None
    assert result.resonance is None
    parts = MovingParts(mass=10e-3, stiffness=1000.0)
    moving = read_off(result.design.replace(moving_parts=parts), result.field)
    mass = 10e-3 + result.design.coil.mass_with_enamel
    assert moving.moving_mass == pytest.approx(mass)
    assert moving.resonance == pytest.approx(math.sqrt(1000.0 / mass) / (2 * math.pi))


def test_flux_of_the_budget_is_the_flux_of_the_field(result: MotorResult) -> None:
    gap, radius = result.design.geometry.gap, result.design.coil.mean_radius
    z = np.linspace(gap.bottom, gap.top, 2001)
    b_r = result.field.flux_density(radius, z)[:, 0]
    flux = 2 * math.pi * radius * float(np.mean((b_r[1:] + b_r[:-1]) / 2)) * gap.depth
    assert result.flux_budget.gap.value == pytest.approx(abs(flux), rel=2e-3)
    mean = abs(flux) / (2 * math.pi * radius * gap.depth)
    assert result.gap_profile.mean.value == pytest.approx(mean, rel=2e-3)
    assert result.flux_budget.magnet.value > result.flux_budget.gap.value


@pytest.mark.parametrize("kind", KINDS)
def test_steel_loads_are_those_of_a_plain_grid(solved: Solved, kind: str) -> None:
    """Mean by volume, and the value that a thousandth of the volume exceeds."""
    result = solved(kind)
    for load in result.steel_loads:
        shape = polygon(result.field.region(load.region))
        r0, z0, r1, z1 = shape.bounds
        step = 0.1 * MM
        r, z = np.meshgrid(np.arange(r0 + step / 2, r1, step), np.arange(z0 + step / 2, z1, step))
        inside = shapely.contains_xy(shape, r, z)
        r, z = r[inside], z[inside]
        size = np.hypot(*result.field.flux_density(r, z).T)
        assert load.mean.value == pytest.approx(float((r * size).sum() / r.sum()), rel=2e-3)
        share = float(r[size > load.peak.value].sum() / r.sum())
        assert 0.3e-3 < share < 3e-3
        assert load.mean.value < load.peak.value
