"""The command for forces, and what statics can and cannot tell."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import motor
from motor.base.errors import InvalidInput
from motor.cli import main
from motor.results.forces import _beyond
from motor.results.loads import motor_loads

FERRITE = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"


@pytest.fixture(scope="module")
def result() -> motor.MotorResult:
    return motor.solve(motor.read_design(FERRITE))


def test_the_command_tells_parts_joints_and_inertia() -> None:
    run = CliRunner().invoke(
        main, ["forces", str(FERRITE), "--json", "--acceleration", "50 gravity"]
    )
    assert run.exit_code == 0, run.output
    record = json.loads(run.stdout)
    assert [p["name"] for p in record["parts"]] == ["yoke", "magnet", "top_plate"]
    for part in record["parts"]:
        assert part["force_uncertainty_N"] > 0
        assert part["inertial_force_N"] == pytest.approx(part["mass_g"] / 1e3 * 50 * 9.80665)
    joint = record["joints"][0]
    assert joint["between"] == ["yoke", "magnet"]
    assert joint["tension"] is False
    assert joint["force_N"] == pytest.approx(146, abs=2)
    assert joint["tension_left_N"] == pytest.approx(
        joint["inertial_force_N"] - joint["force_N"] + joint["force_uncertainty_N"]
    )
    assert joint["stress_MPa"] == pytest.approx(joint["tension_left_N"] / joint["area_mm2"])


def test_without_acceleration_there_is_no_inertia_and_the_caution_stands() -> None:
    run = CliRunner().invoke(main, ["forces", str(FERRITE)])
    assert run.exit_code == 0, run.output
    assert "inertia" not in run.stdout
    assert "pinch" in run.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--acceleration", "50"], "--acceleration"),
        (["--acceleration", "-3 m/s**2"], "acceleration"),
        (["--strength", "8 mm"], "--strength"),
        (["--holder", "frame"], "holder"),
    ],
)
def test_bad_values_are_one_line(arguments: list[str], words: str) -> None:
    run = CliRunner().invoke(main, ["forces", str(FERRITE), *arguments])
    assert run.exit_code == 2
    assert words in run.stderr
    assert run.stderr.count("\n") == 1


def test_who_holds_the_motor_turns_the_inertia_round_but_not_the_pull(
    result: motor.MotorResult,
) -> None:
    above, below = (
        motor_loads(result, acceleration=490.0, holder=name) for name in ("top_plate", "yoke")
    )
    for joint, other in zip(above.forces.joints, below.forces.joints, strict=True):
        assert joint.pull is not None
        assert other.pull is not None
        # equal but for the numerical error of the sum of all forces
        assert joint.pull.value == pytest.approx(other.pull.value, abs=4)
        one, two = above.joint_loads[joint.between], below.joint_loads[joint.between]
        assert one is not None
        assert two is not None
        assert one.mass + two.mass == pytest.approx(above.whole.mass)


def test_a_weak_joint_is_named(result: motor.MotorResult) -> None:
    loads = motor_loads(result, acceleration=5000.0, strength=1e5)
    assert any("loaded beyond its stated strength" in note for note in loads.notes)
    with pytest.raises(InvalidInput, match="strength must be greater than 0"):
        motor_loads(result, strength=0.0)


def test_statics_cannot_tell_where_parts_hang_together_twice() -> None:
    ring = [("a", "b"), ("b", "c"), ("a", "c")]
    assert _beyond(("a", "b"), ring, "c") == ()
    chain = [("a", "b"), ("b", "c")]
    assert _beyond(("a", "b"), chain, "c") == ("a",)
    assert _beyond(("b", "c"), chain, "c") == ("a", "b")
