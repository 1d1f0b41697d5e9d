"""The command line: what it prints, what it writes, how it fails, and what it leaves behind."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import Result

import motor.field.newton
from motor import starter
from motor.base.whole_files import MANIFEST
from motor.design.reading import read_design, write_design
from motor.design.starters import starter_driver
from tests.unit.cli.running import ran

KINDS = ("inside-magnet", "outlines", "outside-magnet")
NUMBERS = (
    "bl_at_rest_Tm",
    "bl_peak_Tm",
    "bl_peak_position_mm",
    "mean_gap_flux_density_T",
    "coil_resistance_ohm",
    "coil_mass_g",
    "motor_mass_g",
    "turns",
    "stroke_82_mm",
    "stroke_70_mm",
    "overhang_mm",
    "mechanical_limit_mm",
    "usable_stroke_mm",
    "newton_iterations",
    "newton_residual",
    "unknowns",
)
"""Keys of the summary that scripts rely on, beside usable_stroke_limited_by and converged."""
POSITIVE = set(NUMBERS) - {"bl_peak_position_mm", "overhang_mm"}


def failed(result: Result, code: int) -> str:
    """Return the one line with which a command failed."""
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("error: ")
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    return result.stderr


def tree(folder: Path) -> dict[str, bytes | None]:
    """Return everything below a folder: contents of files, None for folders."""
    return {
        str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
        for p in folder.rglob("*")
    }


@pytest.fixture(params=KINDS)
def design(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Write the starter of each kind and return its path."""
    path = tmp_path / "my.toml"
    assert ran("new", request.param, path).exit_code == 0
    return path


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """Write one starter and return its path."""
    path = tmp_path / "my.toml"
    write_design(starter("outside-magnet"), path)
    return path


# new


@pytest.mark.parametrize("kind", KINDS)
def test_new_writes_a_design_that_reads_back(kind: str, tmp_path: Path) -> None:
    result = ran("new", kind, tmp_path / "my.toml")
    assert result.exit_code == 0
    assert str(tmp_path / "my.toml") in result.output
    assert read_design(tmp_path / "my.toml") == starter_driver(kind)
    assert list(tree(tmp_path)) == ["my.toml"]


def test_new_keeps_an_existing_file(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text("mine", encoding="utf-8")
    message = failed(ran("new", "outside-magnet", path), 1)
    assert "exists already" in message
    assert "--force" in message
    assert tree(tmp_path) == {"my.toml": b"mine"}
    assert ran("new", "outside-magnet", path, "--force").exit_code == 0
    assert read_design(path) == starter_driver("outside-magnet")


def test_new_of_an_unknown_kind_names_the_near_one(tmp_path: Path) -> None:
    message = failed(ran("new", "outside-magnt", tmp_path / "my.toml"), 2)
    assert "did you mean outside-magnet" in message
    assert tree(tmp_path) == {}


def test_new_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert "could not be written" in failed(ran("new", KINDS[0], tmp_path / "no" / "my.toml"), 1)
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_new_over_a_folder(tmp_path: Path, force: list[str]) -> None:
    (tmp_path / "my.toml").mkdir()
    failed(ran("new", KINDS[0], tmp_path / "my.toml", *force), 1)
    assert tree(tmp_path) == {"my.toml": None}


def test_new_writes_a_study_of_a_design_and_its_answer_is_printed(outside: Path) -> None:
    path = outside.with_name("s.toml")
    assert ran("new", "study", path).exit_code == 0
    text = path.read_text(encoding="utf-8").replace("steps = 4", "steps = 2")
    path.write_text(text.replace('["0 mm", "0.5 mm"]', '["0 mm"]'), encoding="utf-8")
    out = outside.with_name("o")
    result = ran("study", path, "--out", out, "--no-figures", "--workers", "1")
    assert result.exit_code == 0, result.output
    answer = (out / "answer.txt").read_text(encoding="utf-8")
    assert "Longest usable stroke" in answer
    assert answer.strip() in result.stdout


# draw


def test_draw_writes_the_section_beside_the_design(design: Path) -> None:
    result = ran("draw", design)
    assert result.exit_code == 0
    target = design.with_suffix(".svg")
    assert str(target) in result.output
    root = ElementTree.fromstring(target.read_text(encoding="utf-8"))
    texts = [e.text for e in root.iter("{http://www.w3.org/2000/svg}text")]
    for region in read_design(design).regions:
        assert region.name.replace("_", " ") in texts
    assert "winding" in texts
    assert "former" in texts


def test_draw_to_another_place(design: Path, tmp_path: Path) -> None:
    assert ran("draw", design, "--out", tmp_path / "x.svg").exit_code == 0
    assert set(tree(tmp_path)) == {"my.toml", "x.svg", MANIFEST}


def test_draw_escapes_the_name(outside: Path) -> None:
    write_design(starter("outside-magnet").replace(name='<a & "b">'), outside)
    assert ran("draw", outside).exit_code == 0
    root = ElementTree.fromstring(outside.with_suffix(".svg").read_text(encoding="utf-8"))
    assert '<a & "b">' in [e.text for e in root.iter("{http://www.w3.org/2000/svg}text")]


def test_draw_into_a_folder_that_is_not_there(outside: Path, tmp_path: Path) -> None:
    failed(ran("draw", outside, "--out", tmp_path / "no" / "x.svg"), 1)
    assert set(tree(tmp_path)) == {"my.toml"}


# solve


def test_solve_prints_a_table(design: Path) -> None:
    result = ran("solve", design)
    assert result.exit_code == 0
    for word in ("Bl at rest", "T m", "usable linear stroke", "converged", "pacemakers"):
        assert word in result.output
    assert re.search(r"Bl at rest\s+[1-9]\d*\.\d+", result.output)
    assert not re.search(r"\bnan\b", result.output)


def test_solve_prints_json(design: Path) -> None:
    result = ran("solve", design, "--json")
    assert result.exit_code == 0
    summary = json.loads(result.stdout)
    for key in NUMBERS:
        assert isinstance(summary[key], int | float), key
        assert math.isfinite(summary[key]), key
        assert summary[key] > 0 or key not in POSITIVE, key
    assert summary["converged"] is True
    assert summary["usable_stroke_limited_by"] in ("bl_82", "mechanical")
    assert summary["newton_residual"] < 1e-6
    assert isinstance(summary["turns"], int)
    assert summary["stroke_82_mm"] < summary["stroke_70_mm"]
    assert summary["bl_at_rest_Tm"] <= summary["bl_peak_Tm"]
    limits = ("stroke_82_mm", "mechanical_limit_mm")
    assert summary["usable_stroke_mm"] == min(summary[key] for key in limits)


def test_solve_writes_all_files_and_nothing_else(design: Path, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "results"
    result = ran("solve", design, "--out", out, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout) == json.loads((out / "summary.json").read_text())
    names = set(tree(out))
    assert {"summary.json", "design.toml", "bl_curve.csv", "field.vtu", "section.svg"} <= names
    assert any(name.endswith(".png") for name in names)
    assert [name for name in names if name.startswith(".")] == [MANIFEST]
    for name in names:
        assert (out / name).stat().st_size > 0
    assert read_design(out / "design.toml") == read_design(design)
    assert set(tree(tmp_path)) == {"my.toml", "deep", "deep/results"} | {
        f"deep/results/{name}" for name in names
    }


def test_solve_without_figures(outside: Path, tmp_path: Path) -> None:
    out = tmp_path / "results"
    assert ran("solve", outside, "--out", out, "--no-figures").exit_code == 0
    assert {p.suffix for p in out.iterdir()} == {".json", ".toml", ".csv", ".vtu", ".svg"}
    assert not list(out.glob("*.png"))


def test_solve_into_a_folder_with_other_files_keeps_them(outside: Path, tmp_path: Path) -> None:
    out = tmp_path / "results"
    out.mkdir()
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    (out / "summary.json").write_text("old", encoding="utf-8")
    before = tree(tmp_path)
    message = failed(ran("solve", outside, "--out", out, "--no-figures"), 1)
    assert "summary.json could not be written: it is there already" in message
    assert tree(tmp_path) == before
    assert ran("solve", outside, "--out", out, "--no-figures", "--force").exit_code == 0
    assert (out / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert json.loads((out / "summary.json").read_text(encoding="utf-8"))["converged"] is True


@pytest.mark.parametrize("path", ["results", "results/below"])
def test_solve_into_a_file_fails_and_leaves_it(outside: Path, tmp_path: Path, path: str) -> None:
    (tmp_path / "results").write_text("mine", encoding="utf-8")
    before = tree(tmp_path)
    result = ran("solve", outside, "--out", tmp_path / path, "--no-figures")
    assert result.exit_code == 1
    assert "could not be written" in result.stderr
    assert "\nwritten: " not in result.output
    assert tree(tmp_path) == before


def test_solve_with_current_tells_the_force(outside: Path) -> None:
    result = ran("solve", outside, "--current", "2 A", "--position", "1 mm")
    assert result.exit_code == 0
    assert re.search(r"With 2 A at x = \+1 mm: force [0-9.]+ ± ", result.output)


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (["--current", "5"], "--current must be a current with its unit"),
        (["--current", "5 mm"], "wrong kind of unit 'mm'"),
        (["--current", "1 A", "--position", "3"], "--position must be a length with its unit"),
    ],
)
def test_solve_with_a_bad_option(outside: Path, options: list[str], expected: str) -> None:
    assert expected in failed(ran("solve", outside, *options), 2)


@pytest.mark.parametrize("command", ["draw", "solve"])
@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"gap = ", "design file must be valid TOML"),
        (b"\xff\xfe", "design file must be UTF-8 text"),
        (b"", "design file must have a section [geometry]"),
        (b"volume = 1", "unknown key volume"),
    ],
)
def test_design_that_cannot_be_used(
    command: str, content: bytes, expected: str, tmp_path: Path
) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    assert expected in failed(ran(command, path, "--out", tmp_path / "out"), 2)
    assert set(tree(tmp_path)) == {"bad.toml"}


@pytest.mark.parametrize("command", ["draw", "solve"])
def test_design_that_is_not_there(command: str, tmp_path: Path) -> None:
    message = failed(ran(command, tmp_path / "none.toml", "--out", tmp_path / "out"), 2)
    assert "design file must exist" in message
    assert "none.toml" in message
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("command", ["draw", "solve"])
def test_design_that_is_a_folder(command: str, tmp_path: Path) -> None:
    message = failed(ran(command, tmp_path, "--out", tmp_path / "out"), 2)
    assert "design file must be a regular file" in message
    assert tree(tmp_path) == {}


def test_solution_that_fails_is_an_error_and_leaves_nothing(
    outside: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(motor.field.newton, "MOST_STEPS", 1)
    message = failed(ran("solve", outside, "--out", tmp_path / "out"), 1)
    assert "did not converge: relative residual" in message
    assert set(tree(tmp_path)) == {"my.toml"}


@pytest.mark.parametrize("arguments", [[], ["--help"], ["-h"], ["solve", "-h"], ["new", "--help"]])
def test_help(arguments: list[str]) -> None:
    assert "Usage: " in ran(*arguments).output


@pytest.mark.parametrize("arguments", [["sovle"], ["solve"], ["new", "outside-magnet"], ["draw"]])
def test_wrong_usage_is_code_two(arguments: list[str], tmp_path: Path) -> None:
    assert ran(*arguments).exit_code == 2


def test_version_is_that_of_the_package() -> None:
    from importlib.metadata import version

    assert ran("--version").output == f"motor, version {version('magnet-motor-study')}\n"
