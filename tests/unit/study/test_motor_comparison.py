"""Two or more motors side by side."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import motor
from motor.base.errors import InvalidInput
from motor.cli import main
from motor.study.motor_comparison import MotorComparison, compare_motors

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
FERRITE, NEODYMIUM = (DESIGNS / f"door_woofer_{name}.toml" for name in ("ferrite", "neodymium"))


@pytest.fixture(scope="module")
def found() -> MotorComparison:
    return compare_motors(motor.solve(motor.read_design(path)) for path in (FERRITE, NEODYMIUM))


def row(found: MotorComparison, figure: str) -> dict:
    return next(r for r in found.rows() if r["figure"] == figure)


def test_rows_hold_both_values_and_what_the_second_has_more(found: MotorComparison) -> None:
    a, b = (result.summary() for result in found.results)
    for figure in ("bl_at_rest_Tm", "usable_stroke_mm", "motor_mass_g"):
        one = row(found, figure)
        assert (one["a"], one["b"]) == (a[figure], b[figure])
        assert one["difference"] == pytest.approx(b[figure] - a[figure])
    assert row(found, "bl_at_rest_Tm")["unit"] == "T m"
    assert row(found, "bl_at_rest_Tm")["certain"] is True
    assert row(found, "motor_mass_g")["certain"] is None


def test_only_dimensions_that_differ_are_listed(found: MotorComparison) -> None:
    names = [r["figure"] for r in found.dimensions()]
    assert "geometry.kind" in names
    assert "materials.parts.magnet" in names
    assert "coil.layers" not in names
    same = compare_motors([found.results[0], found.results[0]])
    assert same.dimensions() == []
    assert all(r["difference"] in (0, None) for r in same.figures())
    assert all(r["certain"] in (False, None) for r in same.figures())


def test_one_motor_or_too_many_are_refused(found: MotorComparison) -> None:
    for count in (1, 9):
        with pytest.raises(InvalidInput, match="be two to 8"):
            compare_motors([found.results[0]] * count)


def test_the_command_prints_writes_and_takes_folders(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = CliRunner().invoke(
        main, ["compare", str(FERRITE), str(NEODYMIUM), "--json", "--out", str(out)]
    )
    assert run.exit_code == 0, run.output
    record = json.loads(run.stdout)
    assert {"figure", "unit", "a", "b", "difference"} <= set(record["rows"][0])
    assert {p.name for p in out.iterdir()} >= {
        "comparison.csv",
        "comparison.json",
        "comparison.html",
        "comparison.png",
        "comparison.svg",
    }
    page = (out / "comparison.html").read_text(encoding="utf-8")
    assert "door woofer 165 mm, ferrite ring" in page
    assert "largest Bl" in page
    run = CliRunner().invoke(main, ["compare", str(FERRITE)])
    assert run.exit_code == 2


def test_three_motors_are_each_compared_with_the_first(found: MotorComparison) -> None:
    three = compare_motors([*found.results, found.results[0]])
    one = row(three, "bl_at_rest_Tm")
    assert one["difference_c"] == 0
    assert one["difference"] == pytest.approx(one["b"] - one["a"])
    assert set("abc") <= set(one)
