"""The command for slams and roads."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from motor.cli import main

FERRITE = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"


def test_slams_are_counted_and_the_invented_line_is_named() -> None:
    run = CliRunner().invoke(main, ["endurance", str(FERRITE), "--slam", "50 gravity", "--json"])
    assert run.exit_code == 0, run.output
    record = json.loads(run.stdout)
    assert record["slam_amplification"] == 1
    assert not record["fatigue_given"]
    joint = record["joints"][1]
    assert joint["slams_borne"] == pytest.approx(1e6 * joint["slam_stress_MPa"] ** -8)
    assert joint["miner_sum"] == pytest.approx(1e5 / joint["slams_borne"])
    assert "invented" in run.stderr


def test_a_weak_glue_on_a_resonance_does_not_last() -> None:
    arguments = ["--slam", "50 gravity", "--road", "0.02 gravity**2/Hz", "--resonance", "120 Hz"]
    run = CliRunner().invoke(main, ["endurance", str(FERRITE), *arguments, "--fatigue", "50 kPa"])
    assert run.exit_code == 0, run.output
    assert "does not last" in run.stderr
    assert "g rms at the motor" in run.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "--slam or --road"),
        (["--road", "0.02 gravity**2/Hz"], "--resonance"),
        (["--slam", "-5 gravity"], "slam must be greater than 0"),
        (["--road", "0.02 gravity/Hz", "--resonance", "90 Hz"], "--road"),
    ],
)
def test_what_cannot_be_is_one_line(arguments: list[str], words: str) -> None:
    run = CliRunner().invoke(main, ["endurance", str(FERRITE), *arguments])
    assert run.exit_code == 2
    assert words in run.stderr
