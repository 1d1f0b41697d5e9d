"""The DXF drawing, read again with ezdxf."""

from __future__ import annotations

import functools
import math
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely

from geometries import polygon
from geometries.dimensions import dimensions
from motor import starter
from motor.base.errors import OutputError
from motor.base.program import stamp
from motor.report.files.bodies import bodies_of
from motor.report.files.dxf import write_dxf
from motor.report.files.section import cut_faces, edges_behind
from tests.unit.report.files.designs import DESIGNS, ODD_NAMES

MM = 1e3
MILLIMETRES = 4
"""``$INSUNITS``."""


def drawing(name: str, folder: Path) -> Any:
    write_dxf(DESIGNS[name], folder / "x.dxf")
    return ezdxf.readfile(folder / "x.dxf")


def measured(doc: Any) -> list[float]:
    """Return what the dimension entities of a drawing measure, in mm."""
    return sorted(float(d.get_measurement()) for d in doc.modelspace().query("DIMENSION"))


def face(doc: Any, layer: str) -> Any:
    """Return the area that the closed lines of a layer enclose; a line within is a hole."""
    lines = doc.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    assert len(lines) > 0
    assert all(line.closed for line in lines)
    loops = [shapely.Polygon(line.get_points("xy")) for line in lines]
    assert all(loop.is_valid and loop.area > 0 for loop in loops)
    return functools.reduce(shapely.symmetric_difference, loops)


@pytest.mark.parametrize("name", DESIGNS)
def test_every_part_has_its_layer_with_twice_its_section(name: str, tmp_path: Path) -> None:
    doc, design = drawing(name, tmp_path), DESIGNS[name]
    assert doc.header["$INSUNITS"] == MILLIMETRES
    auditor = doc.audit()
    assert auditor.errors == []
    assert auditor.fixes == []
    assert {"axis-line", "dimension-lines"} < {layer.dxf.name for layer in doc.layers}
    for region in design.regions:
        half = shapely.transform(polygon(region), lambda p: p * MM)
        found = face(doc, region.name)
        assert found.area == pytest.approx(2 * half.area, rel=1e-9)
        assert shapely.intersection(found, half).area == pytest.approx(half.area, rel=1e-6)
        assert found.centroid.x == pytest.approx(0, abs=1e-6)
    for layer, outline in design.coil.outlines():
        half = shapely.transform(shapely.Polygon(outline), lambda p: p * MM)
        assert face(doc, f"coil-{layer}").area == pytest.approx(2 * half.area, rel=1e-9)


@pytest.mark.parametrize("name", DESIGNS)
def test_dimensions_are_entities_that_measure_the_motor(name: str, tmp_path: Path) -> None:
    doc, design = drawing(name, tmp_path), DESIGNS[name]
    gap = design.geometry.gap
    points = [p for region in design.regions for p in region.outline]
    heights = [z for _, z in points]
    expected = [
        2 * max(r for r, _ in points),
        max(heights) - min(heights),
        2 * gap.inner_radius,
        2 * gap.outer_radius,
        gap.width,
        gap.depth,
    ]
    found = measured(doc)
    for value in expected:
        assert any(math.isclose(value * MM, each, abs_tol=1e-6) for each in found), value


def test_dimensions_of_a_known_motor(tmp_path: Path) -> None:
    """A ferrite ring of 42/86 x 15 between plates of 6 mm; pole 31, gap 1.65, 31 in all."""
    doc = drawing("door_woofer_ferrite", tmp_path)
    section = [1.65, 6, 6, 6, 15, 31, 31, 34.3, 42, 86]
    places = [6, 21, 27, 31]
    yoke, magnet, plate = [8, 31, 80, 6, 31], [42, 86, 15], [34.3, 80, 6]
    coil = [31.8, 32, 33.008, 1, 14]
    known = sorted([*section, *places, *yoke, *magnet, *plate, *coil])
    assert measured(doc) == pytest.approx(known, abs=1e-6)
    texts = [
        text.dxf.text if text.dxftype() == "TEXT" else text.plain_text()
        for dim in doc.modelspace().query("DIMENSION")
        for text in doc.blocks[dim.dxf.geometry].query("TEXT MTEXT")
    ]
    shown = [text.replace("Ø", "%%c").replace("ø", "%%c") for text in texts]
    assert {"1.65", "15", "%%c42", "%%c86", "%%c34.3"} <= set(shown)


def test_stack_goes_through_every_magnet() -> None:
    design = DESIGNS["door_woofer_neodymium"]
    found = dimensions(design.regions, design.geometry.gap)
    assert [s.what for s in found.stack] == ["cup", "magnet", "pole plate"]
    assert [s.axial * MM for s in found.stack] == pytest.approx([7, 9, 6])
    assert [2 * s.radial * MM for s in found.diameters] == pytest.approx([30, 49])


def test_title_program_and_axis_are_in_the_drawing(tmp_path: Path) -> None:
    doc = drawing("home_bass_long_stroke", tmp_path)
    texts = [t.dxf.text for t in doc.modelspace().query("TEXT")]
    assert "home bass 250 mm, long stroke" in texts
    assert "Invented demo data." in texts
    assert any(text.startswith(stamp()) for text in texts)
    assert ("program", stamp()) in list(doc.header.custom_vars)
    (axis,) = doc.modelspace().query('LINE[layer=="axis-line"]')
    assert axis.dxf.start.x == axis.dxf.end.x == 0
    assert doc.layers.get("axis-line").dxf.linetype == "CENTER"


@pytest.mark.parametrize("title", ODD_NAMES)
def test_odd_titles_stay_readable(title: str, tmp_path: Path) -> None:
    write_dxf(starter("outside-magnet").replace(name=title, notes=title), tmp_path / "x.dxf")
    doc = ezdxf.readfile(tmp_path / "x.dxf")
    assert doc.audit().errors == []
    texts = [t.plain_text() for t in doc.modelspace().query("TEXT")]
    shown = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    if shown:
        assert shown.replace("%%", "% %") in texts
    else:
        heights = {t.dxf.height for t in doc.modelspace().query('TEXT[layer=="title-and-notes"]')}
        assert len(heights) == 1


def test_a_drawing_that_cannot_be_written_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"x\.dxf could not be written"):
        write_dxf(starter("outside-magnet"), tmp_path / "no" / "x.dxf")
    assert list(tmp_path.iterdir()) == []


# the full section


def test_a_ring_shows_two_faces_and_a_disc_one() -> None:
    ring = cut_faces([(1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0)])
    disc = cut_faces([(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)])
    assert [len(faces) for faces in (ring, disc)] == [2, 1]
    assert {abs(x) for (loop,) in ring for x, _ in loop} == {1.0, 2.0}
    assert sorted(disc[0][0]) == [(-2.0, 0.0), (-2.0, 1.0), (2.0, 0.0), (2.0, 1.0)]


def test_a_hollow_on_the_axis_is_a_hole() -> None:
    bell = [(0, 0), (3, 0), (3, 3), (0, 3), (0, 2), (1, 2), (1, 1), (0, 1)]
    ((outer, hole),) = cut_faces([(float(r), float(z)) for r, z in bell])
    assert shapely.Polygon(outer).area == pytest.approx(18)
    assert shapely.Polygon(hole).area == pytest.approx(2)


def test_edges_of_a_bore_are_seen_and_outer_edges_are_not() -> None:
    ring = [(1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0)]
    assert edges_behind([ring]) == [(0.0, 1.0, 0.0), (0.0, 1.0, 1.0)]
    pin = [(0.0, -1.0), (0.5, -1.0), (0.5, 2.0), (0.0, 2.0)]
    found = edges_behind([ring, pin])
    assert found == [(0.5, 1.0, 0.0), (0.5, 1.0, 1.0)]


def test_the_coil_is_drawn_where_it_rests() -> None:
    design = DESIGNS["door_woofer_ferrite"]
    bodies = {body.name: body for body in bodies_of(design)}
    heights = [z for _, z in bodies["coil-winding"].outline]
    middle = (min(heights) + max(heights)) / 2
    assert middle == pytest.approx(design.coil.rest_position, abs=1e-12)
    assert max(z for _, z in bodies["coil-former"].outline) == pytest.approx(max(heights))
