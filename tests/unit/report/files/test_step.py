"""The solids, read again with OpenCASCADE through gmsh."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from geometries import volume
from motor import starter
from motor.base.errors import MeshError, OutputError
from motor.base.gmsh_session import gmsh_session
from motor.base.program import stamp
from motor.design.design import Design
from motor.report.files.step import _named, write_step
from tests.unit.report.files.designs import DESIGNS, ODD_NAMES

MM3 = 1e9


def solids(path: Path) -> dict[str, tuple[float, list[float]]]:
    """Return volume (mm^3) and bounding box (mm) of each solid by its name in the file."""
    with gmsh_session() as gmsh:
        gmsh.option.setNumber("Geometry.OCCImportLabels", 1)
        gmsh.merge(str(path))
        found = {}
        for dim, tag in gmsh.model.getEntities(3):
            name = gmsh.model.getEntityName(dim, tag).rsplit("/", 1)[1]
            box = gmsh.model.occ.getBoundingBox(dim, tag)
            found[name] = gmsh.model.occ.getMass(dim, tag), list(box)
        return found


def ring_volume(outline: list[tuple[float, float]]) -> float:
    """Return the volume of a ring of rectangular section in m^3."""
    r, z = zip(*outline, strict=True)
    return math.pi * (max(r) ** 2 - min(r) ** 2) * (max(z) - min(z))


@pytest.mark.parametrize("name", DESIGNS)
def test_every_part_is_a_solid_of_its_name_and_volume(name: str, tmp_path: Path) -> None:
    design: Design = DESIGNS[name]
    write_step(design, tmp_path / "x.step")
    found = solids(tmp_path / "x.step")
    expected = {region.name: volume(region) for region in design.regions}
    expected |= {f"coil-{part}": ring_volume(o) for part, o in design.coil.outlines()}
    assert set(found) == set(expected)
    for part, value in expected.items():
        assert found[part][0] == pytest.approx(value * MM3, rel=1e-9)
    for region in design.regions:
        r = max(p[0] for p in region.outline) * 1e3
        z = [p[1] * 1e3 for p in region.outline]
        box = [-r, -r, min(z), r, r, max(z)]
        assert found[region.name][1] == pytest.approx(box, abs=1e-3)


def test_nothing_is_printed(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    write_step(starter("inside-magnet"), tmp_path / "x.step")
    assert capfd.readouterr() == ("", "")


def test_the_same_design_gives_the_same_file_with_the_programs_name(tmp_path: Path) -> None:
    for name in ("a.step", "b.step"):
        write_step(starter("outside-magnet"), tmp_path / name)
    text = (tmp_path / "a.step").read_text(encoding="ascii")
    assert text == (tmp_path / "b.step").read_text(encoding="ascii")
    assert f"'{stamp()}'" in text
    assert "SI_UNIT(.MILLI.,.METRE.)" in text


def decoded(text: str) -> str:
    """Return what a string of the exchange format says."""

    def letters(match: re.Match[str]) -> str:
        return bytes.fromhex(match[1]).decode("utf-16-be")

    text = re.sub(r"\\X2\\([0-9A-F]+)\\X0\\", letters, text.replace("''", "'"))
    wide = r"\\X4\\([0-9A-F]{8})\\X0\\"
    return re.sub(wide, lambda m: chr(int(m[1], 16)), text).replace("\\\\", "\\")


@pytest.mark.parametrize("title", [t for t in ODD_NAMES if "X2" not in t])
def test_odd_titles_name_the_assembly(title: str, tmp_path: Path) -> None:
    design = starter("inside-magnet").replace(name=title)
    write_step(design, tmp_path / "x.step")
    assert len(solids(tmp_path / "x.step")) == len(design.regions) + 2
    text = (tmp_path / "x.step").read_text(encoding="ascii")
    (first, *_) = re.findall(r"= PRODUCT\('((?:[^']|'')*)'", text)
    shown = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    assert decoded(first) == (shown or "inside-magnet")


def test_names_are_only_given_where_every_part_is_there() -> None:
    with pytest.raises(MeshError, match="0 solids in 0 products for 1 parts"):
        _named("ISO-10303-21;", "title", ["yoke"])


def test_solids_that_cannot_be_written_are_an_error(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"x\.step could not be written"):
        write_step(starter("outside-magnet"), tmp_path / "no" / "x.step")
