"""Parts brought together: which way, how far, and what is said about it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import motor
from motor.base.errors import InvalidInput
from motor.cli import main
from motor.results.assembly import Assembly, assemble

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
FERRITE = DESIGNS / "door_woofer_ferrite.toml"


@pytest.fixture(scope="module")
def plate() -> Assembly:
    return assemble(motor.read_design(FERRITE), ["top_plate"], holding=60.0, farthest=0.03, steps=8)


def test_the_command_writes_table_record_and_figure(tmp_path: Path) -> None:
    arguments = ["assembly", str(FERRITE), "--part", "yoke", "--steps", "3", "--json"]
    run = CliRunner().invoke(main, [*arguments, "--out", str(tmp_path), "--holding", "1 kN"])
    assert run.exit_code == 0, run.output
    record = json.loads(run.stdout)
    assert record["comes_from"] == "below"
    assert record["standing"] == ["magnet", "top_plate"]
    assert len(record["rows"]) == 3
    assert record["rows"][0]["distance_mm"] == 0
    assert record["closed_pull_N"] == record["rows"][0]["pull_N"] == pytest.approx(145.7, abs=1)
    assert record["holding_passed_mm"] is None
    names = {"assembly.csv", "assembly.json", "assembly.png", "assembly.svg"}
    assert names <= {path.name for path in tmp_path.iterdir()}


def test_the_table_warns(plate: Assembly) -> None:
    run = CliRunner().invoke(main, ["assembly", str(FERRITE), "--part", "top_plate", "--steps=3"])
    assert run.exit_code == 0, run.output
    assert "pinch" in run.output
    assert "strike at" in run.output


def test_pull_falls_with_the_distance_and_the_holding_force_is_on_the_curve(
    plate: Assembly,
) -> None:
    assert (np.diff(plate.pull) < 0).all()
    assert plate.peak == (plate.closed, 0.0)
    assert plate.passed is not None
    assert float(plate.force(plate.passed.value)) == pytest.approx(60, rel=1e-3)
    assert plate.strike_speed == pytest.approx((2 * plate.energy.value / plate.mass) ** 0.5)


def test_parts_pull_each_other_alike(plate: Assembly) -> None:
    design = motor.read_design(FERRITE)
    other = assemble(design, ["yoke", "magnet"], farthest=0.03, steps=3)
    assert not other.outwards
    for x, pull, spread in zip(other.distance, other.pull, other.uncertainty, strict=True):
        k = int(np.abs(plate.distance - x).argmin())
        assert abs(plate.distance[k] - x) < 1e-9 or x == other.distance[1]
        if abs(plate.distance[k] - x) < 1e-9:
            assert pull == pytest.approx(plate.pull[k], abs=spread + plate.uncertainty[k])


def test_a_soft_magnet_alone_passes_its_knee() -> None:
    design = motor.read_design(FERRITE)
    soft = design.replace(materials=replace(design.materials, magnet="AlNiCo5"))
    found = assemble(soft, ["magnet"], without=["top_plate"], steps=3)
    assert found.magnets[0].margin < 0
    assert found.worst_at[0] == found.distance[-1]
    assert any("passes its knee" in note for note in found.notes)
    assert assemble(design, ["magnet"], without=["top_plate"], steps=3).notes == []


@pytest.mark.parametrize(
    ("parts", "without", "words"),
    [
        (["plate"], [], "part must be a part"),
        (["magnet"], [], "free to move"),
        (["yoke", "magnet", "top_plate"], [], "one that stands"),
        (["yoke"], ["magnet"], "leave a magnet"),
    ],
)
def test_what_cannot_be_brought_together_is_refused(
    parts: list[str], without: list[str], words: str
) -> None:
    with pytest.raises(InvalidInput, match=words):
        assemble(motor.read_design(FERRITE), parts, without=without)
