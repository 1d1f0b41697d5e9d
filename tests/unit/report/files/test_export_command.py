"""``motor export``: which files, what it solves, how it fails and what it leaves behind."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import motor.report.files.dxf
import motor.results.motor_result
from motor import export, starter
from motor.base.errors import InvalidInput, OutputError
from motor.cli import main
from motor.design.reading import write_design
from motor.report.files.export import FORMATS
from tests.unit.report.files.designs import KINDS, ODD_NAMES

FILES = {
    "svg": {"section.svg"},
    "dxf": {"section.dxf"},
    "step": {"solids.step"},
    "msh": {"mesh.msh"},
    "mesh": {"mesh_nodes.csv", "mesh_triangles.csv", "csv-metadata.json"},
    "vtu": {"field.vtu"},
    "csv": {"bl_curve.csv", "gap_profile.csv", "csv-metadata.json"},
}


def run(*arguments: str | Path) -> Result:
    result = CliRunner().invoke(main, ["export", *map(str, arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(params=KINDS)
def design(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    write_design(starter(request.param), tmp_path / "my.toml")
    return tmp_path / "my.toml"


def test_all_formats_and_their_paths(design: Path, tmp_path: Path) -> None:
    result = run(design, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    names = {path.name for path in (tmp_path / "out").glob("[!.]*")}
    assert names == set().union(*(FILES[name] for name in FORMATS))
    for name in names:
        assert str(tmp_path / "out" / name) in result.stdout


@pytest.mark.parametrize("only", ["svg", "dxf", "step", "msh", "mesh", "DXF, svg", "step,msh"])
def test_what_holds_no_results_solves_nothing(
    design: Path, tmp_path: Path, only: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(motor.results.motor_result, "solve", lambda *_, **__: pytest.fail("solved"))
    assert run(design, "--out", tmp_path / "out", "--only", only).exit_code == 0
    wanted = [word.strip().lower() for word in only.split(",")]
    names = {path.name for path in (tmp_path / "out").glob("[!.]*")}
    assert names == set().union(*(FILES[word] for word in wanted))


@pytest.mark.parametrize("only", ["vtu", "csv"])
def test_what_holds_results_does_solve(
    tmp_path: Path, only: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unsolvable(*_: object, **__: object) -> None:
        raise OutputError("solved")

    monkeypatch.setattr(motor.results.motor_result, "solve", unsolvable)
    with pytest.raises(OutputError, match="solved"):
        export(starter("inside-magnet"), tmp_path / "out", [only])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("only", ["", "dxg", "dxf,,svg", "all"])
def test_unknown_formats_are_refused(design: Path, tmp_path: Path, only: str) -> None:
    result = run(design, "--out", tmp_path / "out", "--only", only)
    assert result.exit_code == 2
    assert result.stderr == (
        f"error: --only must name some of svg,dxf,step,mesh,vtu,csv,msh; received {only!r}\n"
    )
    assert not (tmp_path / "out").exists()


def test_unknown_formats_are_refused_from_python(tmp_path: Path) -> None:
    with pytest.raises(InvalidInput, match=r"formats must be some of svg, .*; received 'iges'"):
        export(starter("inside-magnet"), tmp_path / "out", ["dxf", "iges"])
    with pytest.raises(InvalidInput, match="received none"):
        export(starter("inside-magnet"), tmp_path / "out", [])
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_an_error(design: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    result = run(design, "--out", tmp_path / "out", "--only", "svg")
    assert result.exit_code == 1
    assert result.stderr.startswith("error: ")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_an_export_that_fails_half_way_keeps_the_old_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    export(starter("inside-magnet"), tmp_path, ["svg", "dxf"])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def full_disc(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(motor.report.files.dxf, "write_dxf", full_disc)
    with pytest.raises(OutputError, match="No space left"):
        export(starter("outside-magnet"), tmp_path, ["svg", "dxf"])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize("title", ODD_NAMES)
def test_odd_names_reach_no_file_name(title: str, tmp_path: Path) -> None:
    written = export(starter("inside-magnet").replace(name=title), tmp_path, ["svg", "dxf", "step"])
    assert {path.name for path in written} == {"section.svg", "section.dxf", "solids.step"}
    assert {path.name for path in tmp_path.glob("[!.]*")} == {path.name for path in written}
    root = ElementTree.fromstring((tmp_path / "section.svg").read_text(encoding="utf-8"))
    texts = [element.text or "" for element in root.iter("{http://www.w3.org/2000/svg}text")]
    shown = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    assert (shown in texts) == bool(shown)


def test_a_design_that_is_not_there(tmp_path: Path) -> None:
    result = run(tmp_path / "no.toml", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []
