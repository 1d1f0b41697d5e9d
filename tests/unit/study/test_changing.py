"""What to change for a goal: goals as text, single and joint changes, predicted and solved."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import motor
import studies
from motor.cli import main
from motor.results.motor_result import MotorResult
from motor.study.advice import Advice
from motor.study.changing import advise
from motor.study.goals import goal
from motor.study.neighbours import TURNS
from motor.study.parameters import Draft

STUDIES = Path(studies.__file__).parent


@pytest.fixture(scope="module")
def found(result: MotorResult) -> Advice:
    return advise(result, ["mean_gap_flux_density +4%", "motor_mass kept"])


def test_goals_are_read(result: MotorResult) -> None:
    bl = result.bl_curve.at_rest.value
    more = goal("bl_at_rest +5%", result)
    assert (more.figure, more.sense) == ("bl_at_rest_Tm", "least")
    assert more.value == pytest.approx(1.05 * bl)
    assert goal("bl_at_rest_Tm - 0.2 T*m", result).value == pytest.approx(bl - 0.2)
    assert goal("usable_stroke = 0.3 cm", result).value == pytest.approx(3.0)
    assert goal("centred", result).value == 0
    assert [goal(f"{n} kept", result).sense for n in ("bl_at_rest", "motor_mass")] == [
        "least",
        "most",
    ]
    assert goal("bl_peak_position kept", result).sense == "equal"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("more Bl", "be such as"),
        ("bl_at_rst +5%", "bl_at_rest"),
        ("bl_at_rest +5 g", "wrong kind"),
        ("motor_mass +0%", "greater than 0"),
        ("total_cost +nan", "number"),
        ("turns +1", "with derivatives"),
    ],
)
def test_goals_that_cannot_be_read_are_refused(result: MotorResult, text: str, words: str) -> None:
    with pytest.raises(motor.InvalidInput, match=words):
        goal(text, result)


def test_a_single_change_does_alone_what_was_asked(result: MotorResult, found: Advice) -> None:
    """Solved finely on both sides: the smallest single change raises the gap's flux by 4 %."""
    clean = [p for p in found.singles if not p.remark and p.steps[0].unit == "mm"]
    assert clean == sorted(clean, key=lambda p: p.size)
    step = clean[0].steps[0]
    names = step.parameter.split(" + ")
    other = Draft(result.design, dict.fromkeys(names, 1e-3 * step.after)).design()
    rise = motor.solve(other).gap_profile.mean.value / result.gap_profile.mean.value - 1
    assert rise == pytest.approx(0.04, abs=0.006)


def test_the_joint_change_reaches_all_goals(result: MotorResult, found: Advice) -> None:
    assert found.joint is not None
    assert not found.reason
    moved = {m.figure: m for m in found.joint.moved}
    gap, mass = moved["mean_gap_flux_density_T"], moved["motor_mass_g"]
    assert gap.solved >= 1.04 * gap.now * (1 - 2e-3)
    assert mass.solved <= mass.now * (1 + 2e-3)
    assert mass.predicted == pytest.approx(mass.solved, rel=0.01)
    assert gap.predicted == pytest.approx(gap.solved, rel=0.02)
    for side in ("inner", "outer"):
        clearance = moved[f"clearance_{side}_mm"]
        assert clearance.solved >= clearance.now - 0.011
    solved = motor.solve(found.design) if found.design else result
    assert solved.gap_profile.mean.value == pytest.approx(gap.solved, rel=1e-12)
    smallest = min(p.size for p in found.singles)
    assert found.joint.size < 4 * smallest


def test_what_a_ring_is_in_the_way_of_is_left_alone() -> None:
    """A pole under a sleeve cannot grow: the joint change is one that can be built."""
    design = motor.read_design(STUDIES / "designs" / "home_bass_long_stroke.toml")
    found = advise(motor.solve(design), ["bl_at_rest +1%", "motor_mass kept"])
    assert found.joint is not None
    assert "geometry.pole_diameter" not in {step.parameter for step in found.joint.steps}
    assert not found.reason


def test_a_turn_more_is_a_turn_more(result: MotorResult) -> None:
    """One turn a layer less, solved: the same coil on the same field."""
    coil = result.design.coil
    slope = motor.derivatives(result, [TURNS]).of("bl_at_rest_Tm", TURNS)
    shorter = dataclasses.replace(coil, winding_height=coil.winding_height - coil.wire.pitch)
    less = motor.solve(result.design.replace(coil=shorter)).bl_curve.at_rest.value
    assert slope.derivative == pytest.approx(result.bl_curve.at_rest.value - less, rel=1e-3)
    assert slope.unit == "T m/turn"


def test_leaning_is_told_with_its_side(found: Advice) -> None:
    """A coil that rests further out has Bl fall earlier outwards."""
    sides = {name: slope for name, slope, _ in found.leaning()}
    assert sides["coil.rest_position"] < 0
    sizes = [abs(slope) for _, slope, _ in found.leaning()]
    assert sizes == sorted(sizes, reverse=True)


def test_the_command_writes_design_table_and_figure(tmp_path: Path, result: MotorResult) -> None:
    motor.write_design(result.design, tmp_path / "motor.toml")
    words = [
        "change",
        str(tmp_path / "motor.toml"),
        "--goal",
        "centred",
        "--out",
        str(tmp_path),
        "--json",
    ]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    record = json.loads((tmp_path / "change.json").read_text())
    joint = [row for row in record["rows"] if row["proposal"] == "joint"]
    lean = next(row for row in joint if row["figure"] == "bl_asymmetry_at_82_percent")
    assert abs(lean["solved"]) < 1e-3 < abs(lean["now"])
    assert abs(lean["predicted"]) < abs(lean["now"]) / 3
    changed = motor.read_design(tmp_path / "changed.toml")
    assert changed != result.design
    assert {p.name for p in tmp_path.iterdir()} >= {"change.csv", "change.png", "change.svg"}
