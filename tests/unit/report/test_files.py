"""Files that leave the program: complete, readable by others, with units, or not there."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from pathlib import Path

import meshio
import numpy as np
import pytest

import motor.field.newton
import motor.report.files.folder
from motor import starter
from motor.base.arrays import Floats
from motor.base.errors import OutputError, SolveError
from motor.base.whole_files import MANIFEST, write_text
from motor.design.reading import read_design
from motor.report.files.folder import save
from motor.results.motor_result import MotorResult, solve

MM = 1e-3
KINDS = ("inside-magnet", "outlines", "outside-magnet")
Solved = Callable[[str], MotorResult]


@pytest.fixture(params=KINDS)
def result(request: pytest.FixtureRequest, solved: Solved) -> MotorResult:
    """Return the solved starter of each kind."""
    return solved(request.param)


def table(path: Path) -> tuple[list[str], np.ndarray]:
    """Return header and numbers of a CSV file."""
    with path.open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)
    return header, np.array(rows, float)


def test_bl_curve_reads_back_with_units(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    header, rows = table(tmp_path / "bl_curve.csv")
    assert header == ["x_mm", "bl_Tm", "bl_uncertainty_Tm"]
    np.testing.assert_allclose(rows[:, 0], result.bl_curve.x * 1e3, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(rows[:, 1], result.bl_curve.bl, rtol=1e-7)
    assert (rows[:, 2] >= 0).all()


def test_every_column_of_every_table_has_a_unit(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    paths = sorted(tmp_path.glob("*.csv"))
    assert len(paths) >= 2
    for path in paths:
        header, rows = table(path)
        assert len(set(header)) == len(header)
        assert all(name.rsplit("_", 1)[1] in ("mm", "T", "Tm", "Wb") for name in header)
        assert np.isfinite(rows).all()
        assert len(rows) > 10


def test_gap_profile_reads_back_with_units(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    header, rows = table(tmp_path / "gap_profile.csv")
    assert header[0] == "z_mm"
    middle = int(np.abs(rows[:, 0]).argmin())
    b_r = result.field.flux_density(result.design.coil.mean_radius, rows[middle, 0] * 1e-3)[0]
    assert rows[middle, header.index("b_r_at_coil_T")] == pytest.approx(abs(b_r), rel=2e-3)
    np.testing.assert_allclose(rows[:, 1], result.gap_profile.at_coil, rtol=1e-7)


def test_field_reads_back_with_another_library(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    grid = meshio.read(tmp_path / "field.vtu")
    (block,) = grid.cells
    assert block.type == "triangle6"
    assert len(block.data) == result.field.triangles
    psi = grid.point_data["flux_function_Wb"]
    assert len(psi) == len(grid.points)
    r, z = grid.points[:, 0], grid.points[:, 1]
    assert (grid.points[:, 2] == 0).all()
    assert r.min() == 0.0
    assert np.abs(psi[r == 0.0]).max() == 0.0
    some = np.linspace(0, len(psi) - 1, 200).astype(int)
    expected = result.field.flux_function(r[some], z[some])
    np.testing.assert_allclose(psi[some], expected, atol=1e-7 * np.abs(psi).max())
    b = grid.cell_data["flux_density_T"][0]
    assert b.shape == (result.field.triangles, 3)
    assert 0.5 < np.hypot(b[:, 0], b[:, 1]).max() < 5.0
    names = result.summary()["regions"]
    label = grid.cell_data["region"][0]
    assert {names[i] for i in np.unique(label)} == {r.name for r in result.design.regions} | {"air"}


def test_regions_in_the_field_file_are_where_they_are_drawn(
    result: MotorResult, tmp_path: Path
) -> None:
    save(result, tmp_path, pictures=False)
    grid = meshio.read(tmp_path / "field.vtu")
    corners = grid.points[grid.cells[0].data[:, :3]]
    middle = corners.mean(axis=1)
    names = result.summary()["regions"]
    label = grid.cell_data["region"][0]
    for region in result.design.regions:
        r, z = zip(*region.outline, strict=True)
        own = middle[label == names.index(region.name)]
        assert min(r) < own[:, 0].min() < own[:, 0].max() < max(r)
        assert min(z) < own[:, 1].min() < own[:, 1].max() < max(z)


def test_summary_is_strict_json_with_units(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    text = (tmp_path / "summary.json").read_text(encoding="utf-8")
    record = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert record == json.loads(json.dumps(result.summary()))
    assert record["coil_mass_g"] == pytest.approx(result.design.coil.mass * 1e3)
    assert record["motor_mass_g"] == pytest.approx(sum(record["part_mass_g"].values()))
    assert record["overhang_mm"] == pytest.approx(result.design.overhang * 1e3)
    for key, value in record.items():
        assert not isinstance(value, float) or math.isfinite(value), key


def test_design_beside_the_results_is_the_one_solved(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    assert read_design(tmp_path / "design.toml") == result.design


def test_figures_are_pictures(result: MotorResult, tmp_path: Path) -> None:
    written = save(result, tmp_path)
    pictures = [path for path in written if path.suffix == ".png"]
    assert len(pictures) >= 3
    for path in pictures:
        assert path.read_bytes().startswith(b"\x89PNG\r\n")
        assert "<svg" in path.with_suffix(".svg").read_text(encoding="utf-8")


def test_written_files_are_all_there_and_no_others(result: MotorResult, tmp_path: Path) -> None:
    written = save(result, tmp_path / "new", pictures=False)
    found = [p for p in (tmp_path / "new").iterdir() if p.name != MANIFEST]
    assert sorted(written) == sorted(found)


def test_saving_twice_gives_the_same_files(result: MotorResult, tmp_path: Path) -> None:
    save(result, tmp_path, pictures=False)
    first = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    save(result, tmp_path, pictures=False)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == first


def test_a_save_that_fails_half_way_leaves_nothing(
    result: MotorResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full_disc(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(motor.report.files.folder, "write_vtu", full_disc)
    with pytest.raises(OutputError, match="could not be written: No space left"):
        save(result, tmp_path / "deep" / "new", pictures=False)
    assert list(tmp_path.iterdir()) == []


def test_a_save_that_fails_half_way_keeps_the_old_results(
    result: MotorResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(result, tmp_path, pictures=False)
    (tmp_path / "summary.json").write_text("old", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def full_disc(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(motor.report.files.folder, "write_vtu", full_disc)
    with pytest.raises(OutputError):
        save(result, tmp_path, pictures=False)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_text_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "old")
    with pytest.raises(UnicodeEncodeError):
        write_text(path, "new \ud800")
    assert path.read_text(encoding="utf-8") == "old"
    assert {p.name for p in tmp_path.iterdir()} == {"a.txt", MANIFEST}
    with pytest.raises(OutputError, match=r"no/a\.txt could not be written"):
        write_text(tmp_path / "no" / "a.txt", "new")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("steps", [0, 1, 2])
def test_field_that_does_not_converge_is_an_error(
    kind: str, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(motor.field.newton, "MOST_STEPS", steps)
    with pytest.raises(SolveError, match=r"did not converge: relative residual \d\.\d+e"):
        solve(starter(kind))


# the record that scripts and notebooks see


def test_report_and_page_hold_the_same_lines(result: MotorResult) -> None:
    text, page = result.report(), result._repr_html_()
    for word in ("Bl at rest", "usable linear stroke", "resistance", "flux through the gap"):
        assert word in text
        assert word in page
    value = f"{result.bl_curve.at_rest.value:#.4g}"
    assert value in text
    assert value in page
    assert page.count("<td>") % 5 == 0


def columns(path: Path) -> dict[str, Floats]:
    """Return the columns of a CSV file by name."""
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


@pytest.mark.parametrize("kind", KINDS)
def test_columns_hold_what_their_names_say(solved: Solved, kind: str, tmp_path: Path) -> None:
    result = solved(kind)
    save(result, tmp_path, pictures=False)
    gap = columns(tmp_path / "gap_profile.csv")
    z = gap["z_mm"] * MM
    geometry = result.design.geometry.gap
    middle = np.abs(result.field.flux_density(geometry.mean_radius, z)[:, 0])
    off = np.abs(gap["b_r_at_middle_T"] - middle) / middle.max()
    assert np.median(off) < 2e-3
    assert off.max() < 0.03
    spread = gap["b_r_at_coil_uncertainty_T"]
    assert (spread > 0).all()
    assert np.median(spread) < 0.02 * gap["b_r_at_coil_T"].max()
    inside = np.abs(z) < geometry.depth / 2
    assert (gap["b_r_at_coil_T"][inside] > 0.2).all()
    assert (gap["b_r_at_middle_T"][inside] > 0.2).all()
    bl = columns(tmp_path / "bl_curve.csv")
    np.testing.assert_allclose(bl["bl_Tm"], result.bl_curve(bl["x_mm"] * MM), rtol=1e-6)
    assert (np.diff(bl["x_mm"]) > 0).all()


@pytest.mark.parametrize("kind", KINDS)
def test_components_in_the_field_file_are_radial_then_axial(
    solved: Solved, kind: str, tmp_path: Path
) -> None:
    """The magnet points along z; the flux in the gap along r; psi rises where B_z does."""
    result = solved(kind)
    save(result, tmp_path, pictures=False)
    grid = meshio.read(tmp_path / "field.vtu")
    b = grid.cell_data["flux_density_T"][0]
    names = result.summary()["regions"]
    magnet = grid.cell_data["region"][0] == names.index("magnet")
    assert np.median(b[magnet, 1]) > 0.1
    assert abs(np.median(b[magnet, 0])) < 0.05
    middle = grid.points[grid.cells[0].data[:, :3]].mean(axis=1)
    gap = result.design.geometry.gap
    in_gap = (np.abs(middle[:, 1]) < 0.4 * gap.depth) & (middle[:, 0] > gap.inner_radius)
    in_gap &= middle[:, 0] < gap.outer_radius
    sign = 1.0 if kind == "inside-magnet" else -1.0
    assert np.median(sign * b[in_gap, 0]) > 0.2
    assert abs(np.median(b[in_gap, 1])) < 0.1 * abs(np.median(b[in_gap, 0]))
    assert (b[:, 2] == 0).all()
