"""Messages that end the search: what is wrong, and what to do instead."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from motor.base.errors import OutOfReach
from motor.cli import main
from motor.cli.command import OUT_OF_REACH, UNREACHED, command
from tests.unit.cli.running import DESIGN, ROOT

PLAN = ROOT / "studies" / "plans" / "production.toml"


def said(*arguments: str | Path, code: int = 2) -> str:
    done = CliRunner().invoke(main, [*map(str, arguments)])
    assert done.exit_code == code, done.output
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def test_study_and_design_are_told_apart() -> None:
    assert "run it with motor study" in said("solve", PLAN)
    assert "run it with motor solve" in said("study", DESIGN, "--out", "nowhere")


@pytest.mark.parametrize(
    ("option", "meant"), [("--acuracy", "--accuracy"), ("--colour", ""), ("--frobnicate", "")]
)
def test_only_near_options_are_suggested(option: str, meant: str) -> None:
    message = said("solve", DESIGN, option)
    assert "No such option" in message
    assert option in message
    assert ("Did you mean" in message) == bool(meant)
    assert meant in message


def test_wire_that_no_size_comes_near() -> None:
    message = said("wire", DESIGN, "--resistance", "3.6 kohm")
    assert "resistance must be near what round wire gives this coil" in message
    assert "3600 ohm: no wire comes near" in message


def test_endings_of_a_drawing_are_named() -> None:
    message = said("draw", DESIGN, "--out", "x.png")
    assert "--out must end in .svg (motor solve --out writes PNG figures too)" in message


def test_temperatures_of_a_sweep_are_those_that_magnets_know() -> None:
    message = said("temperature", DESIGN, "--from=-1e9 degC")
    assert "--from must be between -60 degC and 250 degC; received -1e+09 degC" in message


def test_long_argument_is_shortened() -> None:
    assert len(said("study", PLAN, "--out", "o", "--workers", "9" * 10_000)) < 600


def test_target_out_of_reach_has_its_own_code() -> None:
    @command("none", examples=())
    def seek(console: object) -> None:
        raise OutOfReach("nothing meets it")

    group = click.Group(commands={"seek": seek})
    done = CliRunner().invoke(group, ["seek"])
    assert (done.exit_code, done.stderr) == (OUT_OF_REACH, "error: nothing meets it\n")
    assert str(OUT_OF_REACH) == UNREACHED[0]
    for name, said in (("study", True), ("solve", False)):
        shown = CliRunner().invoke(main, [name, "--help"]).output
        assert (UNREACHED[1] in " ".join(shown.split())) == said


def test_what_people_build_from_comes_with_the_caution(tmp_path: Path) -> None:
    design = tmp_path / "my.toml"
    assert CliRunner().invoke(main, ["new", "outside-magnet", str(design)]).exit_code == 0
    for arguments in (
        ["draw", str(design), "--out", str(tmp_path / "s.svg")],
        ["wire", str(design), "--resistance", "4 ohm"],
        ["export", str(design), "--out", str(tmp_path / "files"), "--only", "dxf"],
    ):
        run = CliRunner().invoke(main, arguments)
        assert run.exit_code == 0, run.output
        assert "pacemakers" in run.stdout
