"""A fixture's pulse: field in free space, what falls short, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import motor
from motor.base.errors import InvalidInput
from motor.cli import main
from motor.results.magnetising import Fixture, magnetise

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_neodymium.toml"
AROUND = Fixture(27e-3, 40e-3, -20e-3, 15e-3, 3e5)
SECTION = ["--inner", "27 mm", "--outer", "40 mm", "--low", "-20 mm", "--high", "15 mm"]


@pytest.fixture(scope="module")
def result() -> motor.MotorResult:
    return motor.solve(motor.read_design(DESIGN))


def test_a_strong_pulse_gives_the_whole_bl_and_a_weak_one_less(result: motor.MotorResult) -> None:
    strong = magnetise(result, AROUND)
    assert strong.magnets[0].short == 0
    assert strong.bl.value == pytest.approx(result.bl_curve.at_rest.value, rel=1e-6)
    assert strong.notes == []
    assert (
        "for its own family that is common practice, no source"
        in replace(strong, unsourced=("magnet",)).notes[0]
    )
    weak = magnetise(result, replace(AROUND, ampere_turns=1e5))
    assert weak.magnets[0].short == 1
    assert weak.bl.value / strong.bl.value == pytest.approx(weak.magnets[0].left, abs=0.1)
    assert weak.magnets[0].mean.value < strong.magnets[0].mean.value
    # beyond saturation the steel is air: the field grows as the current
    stronger = magnetise(result, replace(AROUND, ampere_turns=6e5))
    more = (stronger.magnets[0].mean.value - strong.magnets[0].mean.value) / 3e5
    far = magnetise(result, replace(AROUND, ampere_turns=9e5)).magnets[0].mean.value
    assert (far - stronger.magnets[0].mean.value) / 3e5 == pytest.approx(more, rel=2e-2)


def test_the_command_tells_what_the_magnet_needs() -> None:
    run = CliRunner().invoke(
        main, ["magnetising", str(DESIGN), "--ampere-turns", "150 kA", *SECTION, "--json"]
    )
    assert run.exit_code == 0, run.output
    magnet = json.loads(run.stdout)["magnets"][0]
    # two times the saturation polarisation of 1.31 T over mu0
    assert magnet["needed_kA_per_m"] == pytest.approx(2085, abs=5)
    table = CliRunner().invoke(main, ["magnetising", str(DESIGN), "--ampere-turns=9 kA", *SECTION])
    assert "kilovolts" in table.output
    assert "a guess" in table.stderr


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"inner": 20e-3}, "stay clear of the motor"),
        ({"outer": 20e-3}, "have a section"),
        ({"ampere_turns": 0.0}, "ampere turns must be greater than 0"),
    ],
)
def test_what_cannot_be_wound_is_refused(
    changes: dict[str, float], words: str, result: motor.MotorResult
) -> None:
    with pytest.raises(InvalidInput, match=words):
        magnetise(result, replace(AROUND, **changes))
