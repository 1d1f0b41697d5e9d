"""Bl and reluctance force over position and current."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from geometries import InvalidInput
from motor.design.starters import starter
from motor.results.coil_map import CoilMap, coil_map, over_the_travel, usual_current
from motor.results.motor_result import MotorResult, solve
from tests.unit.cli.running import DESIGN, ran

MM = 1e-3
PLACES, CURRENTS = (-3 * MM, 2 * MM), (4.0, 12.0)


@pytest.fixture(scope="module")
def woofer() -> MotorResult:
    return solve(starter("outside-magnet"))


@pytest.fixture(scope="module")
def found(woofer: MotorResult) -> CoilMap:
    return coil_map(woofer, PLACES, CURRENTS)


def test_each_place_is_the_loaded_coil_solved_alone(woofer: MotorResult, found: CoilMap) -> None:
    """The same field on a mesh of its own, started from the magnets' field."""
    alone = woofer.loaded(PLACES[1], CURRENTS[1])
    for part, value, spread in (
        (alone.odd_force, found.odd[1, 1], found.odd_uncertainty[1, 1]),
        (alone.reluctance_force, found.even[1, 1], found.even_uncertainty[1, 1]),
        (alone.force, found.force[0][1, -1], found.force[1][1, -1]),
        (alone.force_reversed, found.force[0][1, 0], found.force[1][1, 0]),
    ):
        assert abs(part.value - value) <= math.hypot(part.uncertainty, spread)


def test_without_current_it_is_the_curve(woofer: MotorResult, found: CoilMap) -> None:
    exact = woofer.bl_curve(np.array(PLACES))
    spread = np.interp(PLACES, woofer.bl_curve.x, woofer.bl_curve.uncertainty)
    assert (abs(found.bl - exact) <= np.hypot(spread, found.bl_uncertainty)).all()
    middle = found.force_factor[0][:, len(CURRENTS)]
    np.testing.assert_array_equal(middle, found.bl)


def test_the_reluctance_force_grows_as_the_square_and_pulls_into_the_motor(found: CoilMap) -> None:
    """Exactly as the square without saturation; this plate has room left."""
    growth = found.even[:, 1] / found.even[:, 0]
    assert growth == pytest.approx((CURRENTS[1] / CURRENTS[0]) ** 2, rel=0.03)
    assert (found.even < 0).all()
    assert (found.asymmetry < 0).all()


def test_rows_hold_both_signs_and_add_up(found: CoilMap) -> None:
    rows = found.rows()
    assert [r["current_A"] for r in rows[:5]] == [-12.0, -4.0, 0.0, 4.0, 12.0]
    for row in rows:
        amperes, force = row["current_A"] or 0.0, row["force_N"] or 0.0
        if amperes:
            assert row["bl_Tm"] == pytest.approx(force / amperes)
        opposite = next(
            r for r in rows if r["current_A"] == -amperes and r["position_mm"] == row["position_mm"]
        )
        assert opposite["force_N"] == pytest.approx(2 * (row["reluctance_force_N"] or 0.0) - force)
    stated = np.hypot(found.odd_uncertainty, found.even_uncertainty)
    for place, of_place in zip(found.force[1], stated, strict=True):
        assert place.tolist() == [of_place[1], of_place[0], 0.0, of_place[0], of_place[1]]


def test_steady_force_of_a_sine(found: CoilMap) -> None:
    """The mean of a i^2 + b i^4 over a period of I sin wt is a I^2 / 2 + 3 b I^4 / 8."""
    i = found.current
    made = replace(found, even=np.array([-0.2 * i**2 + 1e-3 * i**4, 0.0 * i]))
    largest = CURRENTS[1]
    expected = -0.2 * largest**2 / 2 + 1e-3 * 3 * largest**4 / 8
    assert made.steady_force[0] == pytest.approx([expected, 0.0])


def test_what_cannot_be_mapped_is_refused(woofer: MotorResult) -> None:
    with pytest.raises(InvalidInput, match="positions must lie within the coil's travel"):
        coil_map(woofer, [1.0], [1.0])
    with pytest.raises(InvalidInput, match="other than 0 A"):
        coil_map(woofer, [0.0], [0.0])
    with pytest.raises(InvalidInput, match="melt the winding"):
        coil_map(woofer, [0.0], [1e6])


def test_rest_is_among_the_places(woofer: MotorResult) -> None:
    x = over_the_travel(woofer, 9)
    assert 0.0 in x
    assert (np.diff(x) > 0).all()
    assert x[[0, -1]].tolist() == woofer.bl_curve.x[[0, -1]].tolist()
    assert len(over_the_travel(woofer, 2)) == 2


def test_usual_current_is_that_of_the_whole_winding(woofer: MotorResult) -> None:
    coil = woofer.design.coil
    assert usual_current(coil) == pytest.approx(100e6 * coil.wire.conductor_area, rel=0.05)


def test_command_writes_table_and_figure(tmp_path: Path) -> None:
    out = tmp_path / "out"
    line = ["map", DESIGN, "--positions", "2", "--steps", "1", "--current", "3 A"]
    done = ran(*line, "--json", "-q", "--out", out)
    assert done.exit_code == 0, done.stderr
    record = json.loads(done.stdout)
    names = sorted(p.name for p in out.iterdir() if not p.name.startswith("."))
    assert {"coil_map.csv", "coil_map.json", "coil_map.png", "coil_map.svg"} <= set(names)
    with (out / "coil_map.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == len(record["rows"]) == 2 * 3
    assert float(rows[2]["current_A"]) == 3.0
    assert float(rows[2]["force_N"]) == pytest.approx(record["rows"][2]["force_N"])
    assert record["largest_current_A"] == 3.0
