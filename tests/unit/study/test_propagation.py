"""Tolerances by derivatives: against motors solved one by one, and closed sums of variances."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import motor
from motor.results.motor_result import MotorResult
from motor.study.guarding import inside
from motor.study.parameters import Draft
from motor.study.production import Production, Tolerance
from motor.study.propagation import Propagation, propagate
from motor.study.tolerance import Scatter

TOLERANCES = (
    Tolerance("factors.remanence", 0.03),
    Tolerance("coil.rest_position", 0.5e-3),
    Tolerance("geometry.magnet_thickness", 0.2e-3, "normal"),
)
KEYS = ("bl_at_rest_Tm", "stroke_82_mm", "motor_mass_g")
BL = KEYS[0]


@pytest.fixture(scope="module")
def result() -> MotorResult:
    return motor.solve(motor.starter("inside-magnet"))


@pytest.fixture(scope="module")
def found(result: MotorResult) -> Propagation:
    return propagate(result, Production(TOLERANCES), KEYS)


def test_mass_follows_the_normal_law_of_its_only_cause(
    result: MotorResult, found: Propagation
) -> None:
    """Three standard deviations are the width, less what is cut off there (1.3 %)."""
    slope = motor.derivatives(result, ["geometry.magnet_thickness"]).of(
        "motor_mass_g", "geometry.magnet_thickness"
    )
    scatter = found.scatters["motor_mass_g"]
    assert scatter.deviation == pytest.approx(0.9866 * slope.derivative * 0.2 / 3, rel=2e-3)
    assert scatter.shares["geometry.magnet_thickness"] == pytest.approx(1)
    assert scatter.mean == pytest.approx(1e3 * result.mass_of(), rel=1e-6)


def test_against_motors_that_are_solved(result: MotorResult, found: Propagation) -> None:
    """Effects of each tolerance at both ends of its range, from motors solved there."""
    variance = {}
    for one in TOLERANCES:
        value = Draft(result.design).get(one.name)
        ends = [
            motor.solve(Draft(result.design, {one.name: value + s * one.width}).design())
            for s in (-1, 1)
        ]
        low, high = (end.bl_curve.at_rest.value for end in ends)
        spread = {"uniform": 3**0.5, "normal": 3 / 0.9866}[one.shape]
        variance[one.name] = ((high - low) / 2 / spread) ** 2
    whole = sum(variance.values())
    scatter = found.scatters[BL]
    assert scatter.deviation == pytest.approx(whole**0.5, rel=0.02)
    for name in ("factors.remanence", "geometry.magnet_thickness"):
        assert scatter.shares[name] == pytest.approx(variance[name] / whole, abs=0.02)


def test_what_bends_is_not_taken_for_a_line(result: MotorResult, found: Propagation) -> None:
    """A coil in the middle loses stroke either way: a straight line would see no effect."""
    places = np.linspace(-0.5e-3, 0.5e-3, 5)
    strokes = []
    for x in places:
        coil = dataclasses.replace(
            result.design.coil, rest_position=result.design.coil.rest_position + x
        )
        side = motor.solve(result.design.replace(coil=coil)).stroke_82.symmetric.value
        strokes.append(1e3 * side)
    drawn = np.interp(np.linspace(-0.5e-3, 0.5e-3, 1001), places, strokes)
    scatter = found.scatters["stroke_82_mm"]
    part = scatter.deviation * scatter.shares["coil.rest_position"] ** 0.5
    assert part == pytest.approx(float(drawn.std()), rel=0.05)


def test_an_optimum_is_seen_by_its_bend(result: MotorResult) -> None:
    """A gap wider and narrower, against motors solved there: a line is off by what it bends."""
    one = Tolerance("geometry.cup_inner_diameter", 0.6e-3)
    drawn = propagate(result, Production((one,)), [BL]).drawn[BL]
    value = Draft(result.design).get(one.name)
    ends = [
        motor.solve(Draft(result.design, {one.name: value + s * one.width}).design())
        for s in (-1, 1)
    ]
    low, high = sorted(end.bl_curve.at_rest.value for end in ends)
    nominal = result.bl_curve.at_rest.value
    bend = abs(low + high - 2 * nominal)
    assert bend > 4e-3 * nominal
    assert [drawn.min(), drawn.max()] == pytest.approx([low, high], abs=0.3 * bend / 2)


def test_limits_and_disagreement(found: Propagation) -> None:
    middle = float(np.median(found.drawn[BL]))
    assert inside(found.drawn, {BL: (middle, None)}).mean() == pytest.approx(0.5, abs=1e-3)
    assert not inside(found.drawn, {BL: (None, 0.0)}).any()
    mine = found.scatters[BL]
    other = Scatter(BL, mine.mean, 1.3 * mine.deviation, mine.low, mine.high, mine.shares)
    assert found.apart([mine]) == {}
    assert found.apart([other])[BL].startswith("standard deviation")
    elsewhere = dict(zip(mine.shares, reversed(mine.shares.values()), strict=True))
    other = Scatter(BL, mine.mean, mine.deviation, mine.low, mine.high, elsewhere)
    assert "share of factors.remanence" in found.apart([other])[BL]


def test_a_dimension_without_a_derivative_is_solved_at_both_ends() -> None:
    """Plate and gap of a plain plate part where one changes: its ends are real motors."""
    design = motor.starter("outside-magnet")
    lip = dataclasses.replace(
        design.geometry,
        top_plate_outer_diameter=getattr(design.geometry, "magnet_outer_diameter"),  # noqa: B009
    )
    result = motor.solve(design.replace(geometry=lip), uncertainty=False)
    one = Tolerance("geometry.top_plate_outer_diameter", 0.5e-3)
    scatter = propagate(result, Production((one,)), [BL, "steel_mass_g"]).scatters["steel_mass_g"]
    assert scatter.deviation > 0
