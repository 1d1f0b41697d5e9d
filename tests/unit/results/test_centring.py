"""Parts off centre: which can slide, and what the command says of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from motor.base.errors import InvalidInput
from motor.cli import main
from motor.results.centring import centring
from motor.results.motor_result import MotorResult

FERRITE = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"


def test_the_command_is_near_the_hand_formula() -> None:
    run = CliRunner().invoke(main, ["centring", str(FERRITE), "--json"])
    assert run.exit_code == 0, run.output
    record = json.loads(run.stdout)
    yoke = record["parts"][0]
    assert yoke["moving"] == ["yoke"]
    assert yoke["by_hand_N_per_mm"] == pytest.approx(92.7, abs=0.5)
    assert yoke["radial_stiffness_N_per_mm"] == pytest.approx(108.6, abs=1)
    assert yoke["pull_N"] == pytest.approx(0.1 * yoke["radial_stiffness_N_per_mm"])
    assert yoke["gap_width_change_percent"] == pytest.approx(10 / record["gap_width_mm"])
    assert "three-dimensional" in record["limits"]


def test_far_offsets_are_noted_and_the_table_names_the_limits(
    solved: Callable[[str], MotorResult],
) -> None:
    found = centring(solved("outside-magnet"), parts=["yoke"], offset=0.6e-3)
    assert any("times that of the first order" in note for note in found.notes)
    assert any("clearance" in note for note in found.notes)
    run = CliRunner().invoke(main, ["centring", str(FERRITE), "--part", "yoke"])
    assert "as it was" not in run.output
    assert "three-dimensional" in run.output.replace("\n", " ")


@pytest.mark.parametrize(
    ("parts", "offset", "words"),
    [
        (["plate"], 1e-4, "did you mean"),
        (["yoke", "magnet", "top_plate"], 1e-4, "a part that stands"),
        (["yoke"], 0.0, "offset must be greater than 0"),
    ],
)
def test_what_cannot_be_moved_is_refused(
    parts: list[str], offset: float, words: str, solved: Callable[[str], MotorResult]
) -> None:
    with pytest.raises(InvalidInput, match=words):
        centring(solved("outside-magnet"), parts=parts, offset=offset)
