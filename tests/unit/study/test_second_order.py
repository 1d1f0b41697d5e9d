"""A motor followed along its dimensions: against solved motors, closed volumes, and kinks."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import motor
from motor.results.motor_result import MotorResult
from motor.study.expanding import second_order
from motor.study.parameters import TOGETHER, Draft
from motor.study.second_order import SecondOrder

DEMO = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_neodymium.toml"


@pytest.fixture(scope="module")
def result() -> MotorResult:
    return motor.solve(motor.starter("outside-magnet"))


@pytest.fixture(scope="module")
def found(result: MotorResult) -> SecondOrder:
    return second_order(result)


def _solved(result: MotorResult, found: SecondOrder, changes: dict[str, float]) -> MotorResult:
    values = {lever.name: lever.value for lever in found.levers}
    ends = {
        one: round(1e-3 * (values[name] + change), 9)
        for name, change in changes.items()
        for one in name.split(TOGETHER)
    }
    return motor.solve(Draft(result.design, ends).design())


def test_nothing_changed_is_the_design(result: MotorResult, found: SecondOrder) -> None:
    now, summary = found.at({}), result.summary()
    for key, value in now.figures.items():
        if summary.get(key) is not None:
            assert value == pytest.approx(summary[key], rel=1e-9), key
    assert now.bands["bl_at_rest_Tm"] == pytest.approx(summary["bl_at_rest_uncertainty_Tm"])
    assert not now.far


def test_changes_come_out_within_the_band(result: MotorResult, found: SecondOrder) -> None:
    changes = {"geometry.gap_width": -0.1, "geometry.magnet_thickness": 0.8}
    there, solved = found.at(changes), _solved(result, found, changes)
    summary, before = solved.summary(), result.summary()
    for key in ("bl_at_rest_Tm", "gap_flux_mWb", "stroke_82_mm", "motor_constant_N2_per_W"):
        off, moved = abs(there.figures[key] - summary[key]), abs(summary[key] - before[key])
        assert off < there.bands[key], key
        assert off < 0.1 * moved + 2e-3 * abs(before[key]), key
    for key in ("motor_mass_g", "magnet_mass_g", "total_cost", "mechanical_limit_mm"):
        assert there.figures[key] == pytest.approx(summary[key], rel=1e-6), key
    x = found.x[20:-20:20]  # at contact the winding's end is at the steel
    off = abs(there.bl[20:-20:20] - solved.bl_curve(x))
    assert (off < there.band[20:-20:20]).all()


def test_the_band_grows_until_it_says_solve_again(found: SecondOrder) -> None:
    lever = next(one for one in found.levers if one.name == "geometry.gap_width")
    ways = [share * (lever.least - lever.value) for share in (0.25, 0.5, 1.0)]
    bands = [found.at({lever.name: way}).bands["bl_at_rest_Tm"] for way in ways]
    assert bands == sorted(bands)
    assert found.at(dict.fromkeys((one.name for one in found.levers), 5.0)).far
    with pytest.raises(KeyError):
        found.at({"geometry.no_such_length": 0.1})


def test_equal_dimensions_move_as_one(found: SecondOrder) -> None:
    """Of a plain plate gap depth and thickness cannot part; kept sizes have their reason."""
    names = [lever.name for lever in found.levers]
    for name in found.refused:
        assert any(name in one.split(TOGETHER) for one in names) or found.refused[name]
    assert all(lever.least <= lever.value <= lever.most for lever in found.levers)
    assert all(lever.strain >= 0 and math.isfinite(lever.strain) for lever in found.levers)


def test_a_kink_is_a_doubt_of_the_slope() -> None:
    """Pole plate and lip end at one height: the gap is no deeper whichever of them grows."""
    found = second_order(motor.solve(motor.read_design(DEMO), uncertainty=False))
    lever = next(one for one in found.levers if one.name == "geometry.lip_height")
    there = found.at({lever.name: 0.5 * (lever.most - lever.value)})
    kinked = there.bands["gap_flux_mWb"] / there.figures["gap_flux_mWb"]
    assert kinked > 5 * there.bands["bl_at_rest_Tm"] / there.figures["bl_at_rest_Tm"]
