"""Drawings as DXF: out and in again, half and full sections, units, arcs, and errors."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from click.testing import CliRunner

import motor
from geometries import InvalidInput, Outlines, polygon
from motor.cli.root import main
from motor.design.drawing_design import design_of_outlines
from motor.design.dxf_outlines import read_dxf
from motor.design.reading import design_from_toml, design_to_toml, read_design
from motor.study.parameters import Draft

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
MOTORS = ("door_woofer_ferrite", "door_woofer_neodymium", "outlines")
TOP = [(17, -3), (40, -3), (40, 3), (17, 3)]
POLE = [(0, -20), (40, -20), (40, -15), (15, -15), (15, 3), (0, 3)]
MAGNET = [(20, -15), (40, -15), (40, -3), (20, -3)]


def drawn(path: Path, fill: Callable[[Any], None] | None = None, units: int = 4) -> Path:
    """Write a half section of yoke, magnet and top plate, and what ``fill`` adds."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = units
    space = doc.modelspace()
    for layer, points in (("Yoke", POLE), ("magnet", MAGNET), ("top plate", TOP)):
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    if fill is not None:
        fill(space)
    doc.saveas(path)
    return path


@pytest.mark.parametrize("name", MOTORS)
def test_out_and_in_again_is_the_same_motor(name: str, tmp_path: Path) -> None:
    design = (
        motor.starter(name) if name == "outlines" else motor.read_design(DESIGNS / f"{name}.toml")
    )
    motor.write_dxf(design, tmp_path / "section.dxf")
    again = design_of_outlines(read_dxf(tmp_path / "section.dxf"))
    assert again.geometry.gap == design.geometry.gap
    ours, theirs = ({r.name: r for r in d.regions} for d in (again, design))
    assert set(ours) == set(theirs)
    for part, region in theirs.items():
        assert ours[part].role == region.role
        assert ours[part].magnetisation == region.magnetisation
        one, two = polygon(ours[part]), polygon(region)
        assert one.area == pytest.approx(two.area, rel=1e-9)
        assert one.symmetric_difference(two).area < 1e-9 * two.area
    assert design_from_toml(design_to_toml(again)) == again


def test_whole_layers_move_scale_and_grow(tmp_path: Path) -> None:
    design = design_of_outlines(read_dxf(drawn(tmp_path / "a.dxf")))
    plain = {r.name: polygon(r) for r in design.regions}
    changes = {
        "geometry.magnet_scale_r": 1.1,
        "geometry.yoke_move_z": -1e-3,
        "geometry.top_plate_offset": -0.5e-3,
    }
    changed = {r.name: polygon(r) for r in Draft(design, changes).geometry().regions()}
    # the gap stays where it was told, so heights still count from its middle
    assert changed["magnet"].bounds[2] == pytest.approx(44e-3)
    assert changed["yoke"].bounds[1] == pytest.approx(plain["yoke"].bounds[1] - 1e-3)
    assert changed["top_plate"].bounds == pytest.approx((17.5e-3, -2.5e-3, 39.5e-3, 2.5e-3))
    thinner = Draft(design, {"geometry.yoke_offset": -1e-3}).geometry().regions()[0].outline
    assert min(r for r, _ in thinner) == 0
    assert max(r for r, _ in thinner) == pytest.approx(39e-3)
    with pytest.raises(InvalidInput, match="yoke, offset must leave one closed outline"):
        Draft(design, {"geometry.yoke_offset": -50e-3}).geometry()
    with pytest.raises(InvalidInput, match="yoke, scale_r must be greater than 0"):
        Draft(design, {"geometry.yoke_scale_r": 0.0}).geometry()


def test_arcs_stay_arcs_and_bends_close_to_a_circle(tmp_path: Path) -> None:
    def fill(space: Any) -> None:
        space.add_lwpolyline(
            [(46, -2, 1.0), (46, 2, 0.0)], format="xyb", close=True, dxfattribs={"layer": "ring"}
        )
        space.add_circle((30, 10), 2, dxfattribs={"layer": "cap"})
        arc = {"layer": "part_of_lines"}
        space.add_arc((10, 10), 2, 0, 180, dxfattribs=arc)
        space.add_line((12, 10), (8, 10), dxfattribs=arc)
        space.add_ellipse((5, 20), (3, 0), 0.5, dxfattribs={"layer": "oval"})

    found = {o.layer: o for o in read_dxf(drawn(tmp_path / "a.dxf", fill))}
    assert sum(c.through is not None for c in found["ring"].corners) == 2  # each arc in two halves
    assert sum(c.through is not None for c in found["cap"].corners) == 2
    design = design_of_outlines(list(found.values()))
    area = {r.name: polygon(r).area * 1e6 for r in design.regions}
    assert area["ring"] == pytest.approx(2 * math.pi, rel=7e-3)
    assert area["cap"] == pytest.approx(4 * math.pi, rel=7e-3)
    assert area["part_of_lines"] == pytest.approx(2 * math.pi, rel=7e-3)
    assert area["oval"] == pytest.approx(4.5 * math.pi, rel=7e-3)


@pytest.mark.parametrize(("units", "unit", "scale"), [(1, "", 25.4), (5, "", 10), (0, "cm", 10)])
def test_unit_is_the_headers_or_told(units: int, unit: str, scale: float, tmp_path: Path) -> None:
    found = read_dxf(drawn(tmp_path / "a.dxf", units=units), unit=unit)
    assert max(float(c.at[0]) for o in found for c in o.corners) == pytest.approx(40 * scale)


def test_axis_is_told_or_drawn_and_halves_must_mirror(tmp_path: Path) -> None:
    def line(space: Any) -> None:
        space.add_line((-10, 0), (-10, 50), dxfattribs={"layer": "axis"})

    for path, axis in ((drawn(tmp_path / "a.dxf"), -10.0), (drawn(tmp_path / "b.dxf", line), None)):
        found = read_dxf(path, axis=axis)
        assert max(float(c.at[0]) for o in found for c in o.corners) == pytest.approx(50)
    with pytest.raises(InvalidInput, match=r"layer 'Yoke' must be drawn alike on both sides"):
        read_dxf(tmp_path / "a.dxf", axis=10.0)

    def off(space: Any) -> None:
        space.add_circle((-30, 0), 2, dxfattribs={"layer": "lamp"})

    with pytest.raises(InvalidInput, match="axis must be told"):
        read_dxf(drawn(tmp_path / "c.dxf", off))


def test_what_cannot_be_read_is_named_with_layer_and_entity(tmp_path: Path) -> None:
    def solid(space: Any) -> None:
        space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)], dxfattribs={"layer": "cone"})

    def gap(space: Any) -> None:
        space.add_line((1, 30), (5, 30), dxfattribs={"layer": "shim"})
        space.add_line((5, 30), (5, 31), dxfattribs={"layer": "shim"})

    def bow(space: Any) -> None:
        points = [(1, 30), (5, 35), (5, 30), (1, 35)]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "bow"})

    def hole(space: Any) -> None:
        space.add_circle((30, 30), 5, dxfattribs={"layer": "disc"})
        space.add_circle((30, 30), 2, dxfattribs={"layer": "disc"})

    for k, (fill, words) in enumerate(
        (
            (solid, r"layer 'cone', 3DFACE \w+ must be a line"),
            (gap, r"layer 'shim', LINE \w+ must belong to a closed outline; received an open end"),
            (bow, r"layer 'bow', LWPOLYLINE \w+ must draw an outline that has an area"),
            (hole, r"layer 'disc' must have no hole"),
        )
    ):
        with pytest.raises(InvalidInput, match=words):
            read_dxf(drawn(tmp_path / f"{k}.dxf", fill))
    with pytest.raises(InvalidInput, match="unit must be given"):
        read_dxf(drawn(tmp_path / "u.dxf", units=0))
    (tmp_path / "text.dxf").write_text("no drawing")
    with pytest.raises(InvalidInput, match="drawing must be a DXF file"):
        read_dxf(tmp_path / "text.dxf")
    with pytest.raises(InvalidInput, match="drawing must exist"):
        read_dxf(tmp_path / "none.dxf")


def test_command_writes_a_design_that_reads(tmp_path: Path) -> None:
    path = drawn(tmp_path / "a.dxf")
    arguments = ["import-outline", str(path), str(tmp_path / "a.toml")]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.output
    assert "magnet (magnet)" in done.output
    design = read_design(tmp_path / "a.toml")
    assert isinstance(design.geometry, Outlines)
    assert design.geometry.gap.width == pytest.approx(2e-3)
    told = ["--magnet", "magnet=down", "--gap", "15,16.5,-2,2", "--grade", "Y35", "--force"]
    assert CliRunner().invoke(main, [*arguments, *told]).exit_code == 0
    design = read_design(tmp_path / "a.toml")
    assert design.geometry.gap.width == pytest.approx(1.5e-3)
    assert design.regions[1].magnetisation == (0.0, -1.0)
    for bad, words in (
        (["--gap", "1,2"], "--gap must be four numbers"),
        (["--steel", "magent"], "layer must be one of"),
    ):
        done = CliRunner().invoke(main, [*arguments, *bad, "--force"])
        assert done.exit_code == 2
        assert words in done.output
