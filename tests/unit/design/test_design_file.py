"""Design files: what they say reads back; files that are none are told so."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from geometries import InvalidInput, Outlines
from motor.design.coil import Coil
from motor.design.design import Design, Materials, MovingParts
from motor.design.reading import design_from_toml, design_to_toml, read_design, write_design
from motor.design.starters import starter
from motor.design.stroke_rules import StrokeRules
from motor.design.wire import FlatWire, Wire
from motor.materials import Magnet, TabulatedSteel, steel_named
from tests.unit.design.design_texts import KINDS, OUTSIDE, edited, refusal
from tests.unit.geometries.options import SLEEVE, off_options, switched_on

MM = 1e-3


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("comments", [False, True])
def test_starter_reads_back(kind: str, comments: bool) -> None:
    design = starter(kind)
    assert design_from_toml(design_to_toml(design, comments=comments)) == design


@pytest.mark.parametrize("kind", KINDS)
def test_starter_explains_every_key_and_every_option(kind: str) -> None:
    design = starter(kind)
    text = design_to_toml(design, comments=True)
    for record in (design.geometry, design.coil, design.coil.wire, design.materials):
        for field in () if isinstance(record, Outlines) else dataclasses.fields(record):
            if field.name not in ("rings", "wire", "parts", "temperatures", "prices", "own"):
                assert re.search(rf"(?m)^(# )?{field.name} = .* # .+$", text), field.name
    for word in (
        "[[geometry.rings]]",
        "[moving_parts]",
        "[stroke]",
        "[materials.parts]",
        "[materials.temperatures]",
        "[materials.prices]",
        "[[materials.own_magnets]]",
        "[[materials.own_steels]]",
    ):
        assert f"# {word}" in text
    assert "pacemakers" in text


@pytest.mark.parametrize(("kind", "name"), off_options())
def test_every_option_reads_back(kind: str, name: str) -> None:
    geometry = switched_on(kind, name)
    design = starter(kind)
    height = 0.5e-3
    design = design.replace(
        geometry=geometry, coil=dataclasses.replace(design.coil, winding_height=height)
    )
    again = design_from_toml(design_to_toml(design))
    assert again == design
    assert getattr(again.geometry, name) == getattr(geometry, name)


def full_design() -> Design:
    """Return a design that uses every section of the file."""
    design = starter("outside-magnet")
    cap = dataclasses.replace(
        SLEEVE,
        name="cap",
        height=9e-3,
        cover=0.3e-3,
        cover_inner_diameter=5e-3,
        material="aluminium",
    )
    return Design(
        geometry=dataclasses.replace(design.geometry, rings=(cap,)),
        materials=Materials(
            magnet="Y33", steel="low-carbon-a", parts={"yoke": "low-carbon-b", "magnet": "Y35"}
        ),
        coil=Coil(
            inner_diameter=32.1e-3,
            winding_height=9.7e-3,
            layers=2,
            wire=Wire(material="aluminium", bare_diameter=0.2e-3, overall_diameter=0.226e-3),
            rest_position=-0.35e-3,
            former_thickness=0.05e-3,
            former_below=1e-3,
            travel_margin=0.8e-3,
        ),
        temperature=260.85,
        moving_parts=MovingParts(
            mass=0.0123, stiffness=1234.5, area=0.0133, mechanical_resistance=1.1
        ),
        stroke=StrokeRules(limits=("bl_70", "mechanical")),
        name='quoted "name" with \\ and ü',
        notes="two\nlines\tand a tab",
    )


@pytest.mark.parametrize("comments", [False, True])
def test_every_section_reads_back(comments: bool) -> None:
    design = full_design()
    again = design_from_toml(design_to_toml(design, comments=comments))
    assert again == design
    assert again.geometry.rings == design.geometry.rings  # type: ignore[attr-defined]


def test_numbers_of_numpy_read_back() -> None:
    """What an optimiser or a loop over an array hands in."""
    design = starter("outside-magnet")
    grade = Magnet(
        "mine", np.float64(0.39), np.float64(1.07), price=np.float64(3.5), density=np.float64(4900)
    )
    table = steel_named("mild-steel-1008")
    steel = dataclasses.replace(
        table,
        name="own",
        flux_density=tuple(np.asarray(table.flux_density)),
        field=tuple(np.asarray(table.field)),
        initial_permeability=np.float64(250.0),
    )
    design = design.replace(
        temperature=np.float64(300.0),
        materials=dataclasses.replace(
            design.materials, magnet=grade, steel=steel, prices={"copper": np.float64(9.5)}
        ),
    )
    text = design_to_toml(design)
    assert "np." not in text
    assert design_from_toml(text) == design


def test_a_steel_s_table_may_stand_in_a_file_beside_the_design(tmp_path: Path) -> None:
    rows = [(0.5, 100.0), (1.0, 200.0), (1.5, 1500.0), (1.8, 8000.0), (2.0, 30000.0)]
    lines = ["b_T,h_A_m", *(f"{b},{h}" for b, h in rows)]
    (tmp_path / "mine.csv").write_text("\n".join(lines), encoding="utf-8")
    own = '[[materials.own_steels]]\nname = "mine"\ndensity = "7850 kg/m**3"\ntable = "mine.csv"\n'
    text = re.sub(r"(?m)^steel = .*$", 'steel = "mine"', design_to_toml(starter("outside-magnet")))
    (tmp_path / "motor.toml").write_text(f"{text}\n{own}", encoding="utf-8")
    steel = read_design(tmp_path / "motor.toml").materials.steel_of("top_plate")
    assert isinstance(steel, TabulatedSteel)
    assert [*zip(steel.flux_density, steel.field, strict=True)] == rows


def test_file_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "ü motor.toml"
    write_design(full_design(), path)
    assert read_design(path) == full_design()
    assert read_design(str(path)) == full_design()


def test_numbers_in_the_file_carry_units_and_no_noise() -> None:
    table = tomllib.loads(design_to_toml(full_design()))
    assert table["temperature"] == "-12.3 degC"
    assert table["geometry"]["gap_width"] == "1.6 mm"
    assert table["coil"]["rest_position"] == "-0.35 mm"
    assert table["moving_parts"] == {
        "mass": "12.3 g",
        "stiffness": "1.2345 N/mm",
        "area": "133 cm**2",
        "mechanical_resistance": "1.1 kg/s",
    }
    assert table["coil"]["layers"] == 2
    assert table["stroke"]["limits"] == ["bl_70", "mechanical"]


def test_other_units_mean_the_same() -> None:
    text = edited("gap_width", '"0.16 cm"', edited("temperature", '"293.15 kelvin"'))
    assert design_from_toml(text) == starter("outside-magnet")


def test_wire_and_former_of_a_design_file_are_what_it_says() -> None:
    """Diameters and lengths under the keys that name them."""
    text = """
name = "by hand"
[geometry]
kind = "outside-magnet"
pole_diameter = "31 mm"
gap_width = "1.6 mm"
gap_depth = "6 mm"
top_plate_outer_diameter = "84 mm"
top_plate_thickness = "6 mm"
magnet_inner_diameter = "44 mm"
magnet_outer_diameter = "90 mm"
magnet_thickness = "15 mm"
back_plate_diameter = "84 mm"
back_plate_thickness = "6 mm"
[materials]
magnet = "Y30"
steel = "low-carbon-a"
[coil]
inner_diameter = "31.6 mm"
winding_height = "12 mm"
layers = 2
former_thickness = "0.1 mm"
former_below = "4 mm"
former_above = "1 mm"
[coil.wire]
bare_diameter = "0.25 mm"
overall_diameter = "0.3 mm"
"""
    one = design_from_toml(text).coil
    assert isinstance(one.wire, Wire)
    assert one.wire.bare_diameter == pytest.approx(0.25 * MM)
    assert one.wire.overall_diameter == pytest.approx(0.3 * MM)
    assert one.former_below == pytest.approx(4 * MM)
    assert one.former_above == pytest.approx(1 * MM)
    flat = text[: text.index("bare_diameter")]
    flat += 'thickness = "0.1 mm"\nwidth = "0.4 mm"\ninsulation = "0.02 mm"\n'
    wire = design_from_toml(flat.replace("layers = 2", "layers = 1")).coil.wire
    assert isinstance(wire, FlatWire)
    assert (wire.pitch, wire.build) == pytest.approx((0.12 * MM, 0.42 * MM))


@pytest.mark.parametrize(
    "text",
    [
        "[geometry",
        "a = ",
        "a = 1\na = 2",
        "= 1",
        "\x00",
        "[" * 5000,
        "a = " + "[" * 5000,
        'a = "\n"',
        "a.b = 1\na = 2",
    ],
)
def test_broken_toml(text: str) -> None:
    assert refusal(text).startswith("design file must be valid TOML; received ")


def test_broken_toml_is_told_the_line() -> None:
    assert "line 2" in refusal('name = "a"\ngeometry = = 1\n')


FILES: dict[str, Any] = {
    "missing": (lambda p: None, "design file must exist; received "),
    "folder": (lambda p: p.mkdir(), "design file must be a regular file; received "),
    "bytes": (lambda p: p.write_bytes(b'name = "\xff\xfe"'), "design file must be UTF-8 text"),
    "other encoding": (
        lambda p: p.write_bytes(OUTSIDE.replace("starter", "für").encode("latin-1")),
        "design file must be UTF-8 text",
    ),
}


@pytest.mark.parametrize("case", FILES)
def test_file_that_cannot_be_read(case: str, tmp_path: Path) -> None:
    make, expected = FILES[case]
    path = tmp_path / "motor.toml"
    make(path)
    with pytest.raises(InvalidInput) as caught:
        read_design(path)
    assert str(caught.value).startswith(expected)
    assert str(path) in str(caught.value)


@pytest.mark.parametrize("name", ["nul\0byte.toml", "x" * 5000, ""])
def test_path_that_is_none(name: str) -> None:
    with pytest.raises(InvalidInput, match="design file must "):
        read_design(name)
