"""A design that names a Python file: refused unless code may run, and known to it alone."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import motor
from geometries import InvalidInput, registered, running_code
from motor.cli import main
from motor.design.writing import design_to_toml
from motor.study.study_file import read_study
from tests.unit.geometries.test_installed import CODE

DESIGN = """
[geometry]
kind = "bare-ring"
code = "bare.py"
bore = "40 mm"

[materials]
magnet = "N42"
steel = "low-carbon-a"

[coil]
inner_diameter = "36.4 mm"
winding_height = "3 mm"
layers = 1

[coil.wire]
bare_diameter = "0.2 mm"
overall_diameter = "0.22 mm"
"""


@pytest.fixture
def design(tmp_path: Path) -> Path:
    (tmp_path / "bare.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()\n{CODE}")
    path = tmp_path / "bare.toml"
    path.write_text(DESIGN)
    return path


def test_file_does_not_run_unless_permitted(design: Path) -> None:
    with pytest.raises(InvalidInput, match="code must be permitted by motor --run-code"):
        motor.read_design(design)
    found = CliRunner().invoke(main, ["draw", str(design), "--out", str(design) + ".svg"])
    assert found.exit_code == 2
    assert "runs as code with all your rights" in found.stderr
    assert not (design.parent / "ran").exists()


def test_permitted_it_is_a_geometry_like_any_other(design: Path) -> None:
    picture = design.with_suffix(".svg")
    found = CliRunner().invoke(main, ["--run-code", "draw", str(design), "--out", str(picture)])
    assert found.exit_code == 0, found.output
    assert "magnet" in picture.read_text()
    assert "bare-ring" not in registered()
    with pytest.raises(InvalidInput, match="--run-code"):
        motor.read_design(design)
    with running_code():
        record = motor.read_design(design)
        (design.parent / "again.toml").write_text(design_to_toml(record))
        again = motor.read_design(design.parent / "again.toml")
    assert again.geometry.regions() == record.geometry.regions()


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("1 / 0", "code must run without an error; received .*ZeroDivisionError"),
        ("x = 1", r"kind must be one that bare.py declares \(none\)"),
        (CODE.replace("bare-ring", "outside-magnet"), r"declares \(outside-magnet\)"),
    ],
)
def test_file_that_is_no_geometry_is_refused(design: Path, code: str, words: str) -> None:
    (design.parent / "bare.py").write_text(code)
    known = registered()
    with running_code(), pytest.raises(InvalidInput, match=words):
        motor.read_design(design)
    assert registered() == known


def test_studies_run_it_in_their_processes_where_it_was_permitted(
    design: Path, tmp_path: Path
) -> None:
    study, out = tmp_path / "study.toml", tmp_path / "out"
    study.write_text('design = "bare.toml"\n[[sweep]]\n"geometry.bore" = ["40 mm", "40.1 mm"]\n')
    with pytest.raises(InvalidInput, match="code must be permitted by motor --run-code"):
        read_study(study)
    asked = ["study", str(study), "--out", str(out), "--workers", "1", "--no-figures"]
    done = CliRunner().invoke(main, ["--run-code", *asked, "--json"])
    assert done.exit_code == 0, done.output
    low, high = json.loads(done.stdout)["results"]
    assert low["error"] == high["error"] == ""
    assert high["motor_mass_g"] > low["motor_mass_g"] > 0
    done = CliRunner().invoke(main, ["--run-code", *asked, "--scheduler", "tcp://127.0.0.1:1"])
    assert done.exit_code == 2
    assert "solved on this machine" in done.stderr


def test_a_geometry_made_again_needs_its_file_as_it_was(design: Path) -> None:
    with running_code():
        geometry = motor.read_design(design).geometry
    again, (path, module, *rest) = geometry.__reduce_ex__(4)
    assert copy.deepcopy(geometry) == geometry
    (design.parent / "bare.py").write_text(CODE + "\n")
    with running_code(), pytest.raises(InvalidInput, match="stay as it is while a study runs"):
        again(path, f"{module}_of_another_process", *rest)
