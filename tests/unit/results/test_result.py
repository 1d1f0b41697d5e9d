"""Figures of a solved motor against their definitions and against the field itself."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely

import motor
from geometries import InvalidInput, polygon
from motor.design.characteristic import Polynomial
from motor.design.design import MovingParts
from motor.design.stroke_rules import StrokeRules
from motor.field.field import CHANGE, SCATTER, ErrorModel, FieldOnMesh
from motor.results.bl import CARRIED, STROKE, BlCurve
from motor.results.motor_result import MotorResult, read_off

MM = 1e-3
KINDS = ("inside-magnet", "outlines", "outside-magnet")
Solved = Callable[[str], MotorResult]


@pytest.fixture(params=KINDS)
def result(request: pytest.FixtureRequest, solved: Solved) -> MotorResult:
    """Return the solved starter of each kind."""
    return solved(request.param)


def test_usable_stroke_is_the_least_limit(result: MotorResult) -> None:
    limits = {
        "bl_82": result.stroke_82.symmetric.value,
        "mechanical": result.travel.limit,
    }
    usable = result.usable_stroke
    assert usable.value == min(limits.values()) == limits[usable.limited_by]


def test_every_limit_can_be_asked_for(result: MotorResult) -> None:
    """Overhang less the rest offset; K(x) = k (1 + (x/a)^2 ...) and L(x) = l (1 + x/b) by hand."""
    parts = MovingParts(
        mass=10e-3,
        stiffness=Polynomial((1000.0, 0.0, 1000.0 / 4e-3**2), -9e-3, 9e-3),
        inductance=Polynomial((1e-3, -1e-3 / 20e-3), -9e-3, 9e-3),
    )
    coil = dataclasses.replace(result.design.coil, rest_position=0.4e-3)
    wanted = {
        "overhang": abs(result.design.overhang) - 0.4e-3,
        "compliance": 4e-3 * math.sqrt(1 / 3),
        "inductance": 2e-3,
    }
    for name, value in wanted.items():
        design = result.design.replace(
            coil=coil, moving_parts=parts, stroke=StrokeRules(limits=(name, "mechanical"))
        )
        found = read_off(design, result.field)
        assert found.usable_stroke.value == pytest.approx(value, rel=1e-5)
        assert found.usable_stroke.limited_by == name
        assert found.summary()[f"{name}_stroke_mm"] == pytest.approx(value * 1e3, rel=1e-5)
        words = found.report()
        assert "compliance at 75 %" in words
        assert "inductance changed by 10 %" in words
        assert f"{wanted['overhang'] * 1e3:.3g} mm with the rest offset" in " ".join(words.split())


def test_a_softening_suspension_is_no_limit(result: MotorResult) -> None:
    soft = MovingParts(mass=10e-3, stiffness=Polynomial((1000.0, 0.0, -1e7), -8e-3, 8e-3))
    found = read_off(result.design.replace(moving_parts=soft), result.field)
    assert found.stroke_limits["compliance"].value == math.inf
    assert found.summary()["compliance_stroke_mm"] is None
    assert "inductance" not in found.stroke_limits


@pytest.mark.parametrize("name", ["compliance", "inductance"])
def test_limits_that_nothing_tells_are_refused(result: MotorResult, name: str) -> None:
    parts = MovingParts(mass=10e-3, stiffness=1000.0, inductance=1e-3)
    for moving in (None, parts):
        with pytest.raises(InvalidInput, match=f"name {name} only where moving_parts"):
            result.design.replace(moving_parts=moving, stroke=StrokeRules(limits=(name,)))


def test_stroke_uncertainty_by_hand() -> None:
    """Parabolas 5 (1 - (x/a)^2), a = 10 and 10.05 mm: what changes, and what Bl's slope carries."""
    x = np.linspace(-9e-3, 9e-3, 4001)
    fine, coarse = (5.0 * (1 - (x / a) ** 2) for a in (10e-3, 10.05e-3))
    curve = BlCurve(x, fine, coarse, 0.0, ErrorModel(scatter=1e-3, boundary=2e-4))
    for share in (0.82, 0.7):
        root = math.sqrt(1 - share)
        change = 0.05e-3 * root
        slope = 2 * 5.0 * root / 10e-3
        size = max(10e-3 * root, CARRIED * 5.0 / slope)
        for side in (curve.stroke(share).inward, curve.stroke(share).outward):
            assert side.value == pytest.approx(10e-3 * root, rel=1e-5)
            tail = math.hypot(SCATTER * 1e-3, 2e-4) * size
            wanted = STROKE * math.hypot(CHANGE * change, tail)
            assert side.uncertainty == pytest.approx(wanted, rel=1e-3)


def test_gap_profile_reaches_past_gap_and_winding(result: MotorResult) -> None:
    gap, z = result.design.geometry.gap, result.gap_profile.z
    reach = max(gap.depth, 3 * gap.width, result.design.coil.winding_height / 2)
    assert (-z[0], z[-1]) == pytest.approx(2 * (gap.depth / 2 + reach,))
    tall = dataclasses.replace(result.design.coil, winding_height=2.2 * reach)
    profile = read_off(result.design.replace(coil=tall), result.field).gap_profile
    assert profile.z[-1] == pytest.approx(gap.depth / 2 + 1.1 * reach)


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


def test_peak_of_steel_is_as_uncertain_as_its_surroundings() -> None:
    """By hand: the change between meshes, the bend about the thousandth, and the value itself."""
    result = motor.solve(motor.starter("outside-magnet"))

    def exceeded(level: FieldOnMesh, share: float) -> float:
        here = level.system.mesh.triangles_of("top_plate")
        size = np.linalg.norm(level.flux_densities[here], axis=-1).ravel()
        volume = level.system.weight[here].ravel()
        falling = np.argsort(-size)
        within = np.cumsum(volume[falling]) <= share * volume.sum()
        return float(size[falling][within.sum()])

    load = next(one for one in result.steel_loads if one.region == "top_plate")
    half, peak, twice = (exceeded(result.field.fine, 1e-3 * k) for k in (0.5, 1, 2))
    before = exceeded(result.field.coarse, 1e-3)
    parts = 0.65 * (peak - before), 0.65 * (half - 2 * peak + twice), 0.009 * peak
    assert load.peak.value == peak
    assert load.peak.uncertainty == pytest.approx(math.hypot(*parts))
