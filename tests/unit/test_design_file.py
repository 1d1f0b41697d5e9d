"""Design files: what reads back, and what every unusable file is told."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from geometries import InvalidInput, registered
from motor.coil import Coil
from motor.design import Design, Materials, MovingParts, StrokeRules
from motor.design_file import design_from_toml, design_to_toml, read_design, write_design
from motor.materials import Magnet
from motor.starters import starter
from motor.wire import FlatWire, Wire
from tests.unit.options import SLEEVE, off_options, switched_on

MM = 1e-3
KINDS = sorted(registered())
TEXT = {kind: design_to_toml(starter(kind)) for kind in KINDS}
OUTSIDE = TEXT["outside-magnet"]


def edited(key: str, value: str, text: str = OUTSIDE) -> str:
    """Return a design file with the value of one key replaced; the key must be there."""
    changed, count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
    assert count == 1, key
    return changed


def added(line: str, section: str, text: str = OUTSIDE) -> str:
    """Return a design file with a line added at the start of a section."""
    head = f"[{section}]\n"
    assert text.count(head) == 1
    return text.replace(head, f"{head}{line}\n")


def without(key: str, text: str = OUTSIDE) -> str:
    """Return a design file without the line of one key."""
    changed, count = re.subn(rf"(?m)^{key} = .*\n", "", text)
    assert count == 1, key
    return changed


def refusal(text: str) -> str:
    """Return the message with which a design file is refused; it has the usual form."""
    with pytest.raises(InvalidInput) as caught:
        design_from_toml(text)
    error = caught.value
    message = str(error)
    assert error.field in message
    assert f"{error.field} must {error.must}; received {error.received}" in message
    return message


# round trips


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
        for field in dataclasses.fields(record):
            if field.name not in ("rings", "wire", "parts", "prices"):
                assert re.search(rf"(?m)^(# )?{field.name} = .* # .+$", text), field.name
    for word in (
        "[[geometry.rings]]",
        "[moving_parts]",
        "[stroke]",
        "[materials.parts]",
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
        name='quoted "name" with \\ and \n and ü \x7f',
        notes="two\nlines\tand a tab",
    )


@pytest.mark.parametrize("comments", [False, True])
def test_every_section_reads_back(comments: bool) -> None:
    design = full_design()
    again = design_from_toml(design_to_toml(design, comments=comments))
    assert again == design
    assert again.geometry.rings == design.geometry.rings  # type: ignore[attr-defined]


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


# what is refused, and how


QUANTITIES = {
    "bare number": ("8", "8 (a bare number without a unit)"),
    "bare decimal": ("8.5", "8.5 (a bare number without a unit)"),
    "truth value": ("true", "True"),
    "number in quotes": ('"8"', "'8' (no unit)"),
    "wrong kind": ('"8 kg"', "'8 kg' (wrong kind of unit 'kg')"),
    "unknown unit": ('"8 furlong_"', "unknown unit"),
    "misspelt unit": ('"8 mmm"', "'8 mmm' (unknown unit 'mmm')"),
    "no number": ('"wide"', "'wide'"),
    "empty": ('""', "''"),
    "two numbers": ('"1 2 mm"', "'1 2 mm'"),
    "list": ('["8 mm"]', "['8 mm']"),
    "code": ('"8 __import__"', "'8 __import__'"),
    "huge": ('"1e400 mm"', "'1e400 mm'"),
    "not a number": ('"nan mm"', "'nan mm'"),
    "comma": ('"1,6 mm"', "'1,6 mm'"),
}


@pytest.mark.parametrize("case", QUANTITIES)
@pytest.mark.parametrize(
    ("key", "section"),
    [("gap_width", "geometry"), ("winding_height", "coil"), ("bare_diameter", "coil.wire")],
)
def test_quantity_without_a_proper_unit(case: str, key: str, section: str) -> None:
    value, received = QUANTITIES[case]
    message = refusal(edited(key, value))
    assert message.startswith(f'[{section}] {key} must be a length with its unit, such as "8 mm"')
    assert received in message


def test_temperature_without_unit() -> None:
    message = refusal(edited("temperature", "20"))
    assert message.startswith("temperature must be a temperature with its unit")
    assert "degC" in message
    assert "received 20 (a bare number" in message


SIZES = {
    "negative gap": ("gap_width", '"-1 mm"', "received -1 mm", "0.01 mm and 1000 mm"),
    "gap of nothing": ("gap_width", '"0 mm"', "received 0 mm", "0.01 mm and 1000 mm"),
    "magnet without thickness": ("magnet_thickness", '"0 mm"', "received 0 mm", "0.01 mm"),
    "magnet of 3 km": ("magnet_outer_diameter", '"3 km"', "received 3e+06 mm", "1000 mm"),
    "plate of an atom": ("top_plate_thickness", '"0.1 nm"', "received 1e-07 mm", "0.01 mm"),
    "winding of nothing": ("winding_height", '"0 mm"', "received 0 mm", "0.1 mm and 200 mm"),
    "coil of 2 m": ("inner_diameter", '"2 m"', "received 2000 mm", "2 mm and 500 mm"),
    "no layers": ("layers", "0", "received 0", "between 1 and 20"),
    "many layers": ("layers", "21", "received 21", "between 1 and 20"),
    "half a layer": ("layers", "1.5", "received 1.5", "a whole number"),
    "layers in words": ("layers", '"two"', "received 'two'", "a whole number"),
    "layers true": ("layers", "true", "received True", "a whole number"),
    "negative wall": ("former_thickness", '"-0.1 mm"', "received -0.1 mm", "0 mm and 100 mm"),
    "wire under its enamel": ("overall_diameter", '"0.2 mm"', "received 0.2 mm", "0.24 mm"),
    "wire as a rod": ("bare_diameter", '"6 mm"', "received 6 mm", "5 mm"),
    "wire taller than its winding": (
        "winding_height",
        '"0.2 mm"',
        "received 0.2 mm",
        "hold at least one turn of 0.27 mm",
    ),
    "absolute zero": ("temperature", '"-300 degC"', "received -300 degC", "-60 and 250 degC"),
    "in the fire": ("temperature", '"251 degC"', "received 251 degC", "-60 and 250 degC"),
    "wrong word": ("lip_style", '"steps"', "received 'steps'", "step, chamfer"),
}


@pytest.mark.parametrize("case", SIZES)
def test_size_out_of_range(case: str) -> None:
    key, value, received, limit = SIZES[case]
    text = added('lip_style = "step"', "geometry") if key == "lip_style" else OUTSIDE
    message = refusal(edited(key, value, text))
    assert re.search(rf"(^|\] ){key} must ", message)
    assert limit in message.split("; received")[0]
    assert received in message


KEYS = {
    "misspelt length": ("geometry", 'pole_extention = "3 mm"', "pole_extension"),
    "upper case": ("geometry", 'Gap_Width = "1 mm"', "gap_width"),
    "misspelt coil key": ("coil", 'windingheight = "3 mm"', "winding_height"),
    "misspelt wire key": ("coil.wire", 'overal_diameter = "3 mm"', "overall_diameter"),
    "misspelt material key": ("materials", 'magnett = "Y30"', "magnet"),
}


@pytest.mark.parametrize("case", KEYS)
def test_misspelt_key_is_told_the_near_one(case: str) -> None:
    section, line, near = KEYS[case]
    key = line.split(" = ")[0]
    message = refusal(added(line, section))
    assert message.startswith(f"[{section}] {key} must be a known key (did you mean ")
    assert near in message
    assert message.endswith(f"received '{key}'")


def test_unknown_key_is_told_all() -> None:
    message = refusal(added("qqqq = 1", "coil"))
    assert message.startswith("[coil] qqqq must be a known key (known: inner_diameter, ")
    assert "travel_margin" in message


def test_misspelt_section() -> None:
    message = refusal(OUTSIDE.replace("[materials]", "[material]"))
    assert "material must be a known key (did you mean materials" in message


def test_key_of_the_other_geometry() -> None:
    message = refusal(added('cup_outer_diameter = "50 mm"', "geometry"))
    assert message.startswith("[geometry] cup_outer_diameter must be a known key")


NAMES = {
    "magnet": ("magnet", '"Y3O"', "magnet must be a known one (did you mean ", "Y30"),
    "steel": ("steel", '"low-carbon"', "steel must be a known one (did you mean ", "low-carbon-a"),
    "kind": ("kind", '"outside"', "kind must be a known one (did you mean ", "outside-magnet"),
    "magnet as number": ("magnet", "30", "magnet must be text in quotes; received 30", ""),
    "kind as number": ("kind", "1", "kind must be text in quotes; received 1", ""),
    "kind as list": ("kind", '["outside-magnet"]', "kind must be text in quotes", ""),
    "name as number": ("name", "7", "name must be text in quotes; received 7", ""),
}


@pytest.mark.parametrize("case", NAMES)
def test_unknown_or_mistyped_name(case: str) -> None:
    key, value, start, near = NAMES[case]
    message = refusal(edited(key, value))
    assert start in message
    assert near in message
    assert value.strip('"').split('"')[-1] in message or value.startswith("[")


def test_unknown_conductor() -> None:
    message = refusal(added('material = "coper"', "coil.wire"))
    assert "conductor must be a known one (did you mean copper?); received 'coper'" in message


@pytest.mark.parametrize("section", ["geometry", "materials", "coil"])
def test_missing_section(section: str) -> None:
    lines = OUTSIDE.splitlines()
    start = lines.index(f"[{section}]")
    ends = [i for i, line in enumerate(lines) if i > start and line.startswith("[")]
    ends = [i for i in ends if not lines[i].startswith(f"[{section}.")] or [len(lines)]
    message = refusal("\n".join(lines[:start] + lines[ends[0] :]))
    assert message == f"design file must have a section [{section}]; received none"


def test_empty_file() -> None:
    assert "must have a section [geometry]" in refusal("")


def test_missing_wire() -> None:
    message = refusal(OUTSIDE[: OUTSIDE.index("[coil.wire]")])
    assert message == "[coil] wire must be given as a section [coil.wire]; received nothing"


@pytest.mark.parametrize(
    ("section", "key"),
    [
        ("geometry", "kind"),
        ("geometry", "gap_width"),
        ("materials", "magnet"),
        ("coil", "layers"),
        ("coil.wire", "bare_diameter"),
    ],
)
def test_missing_key(section: str, key: str) -> None:
    message = refusal(without(key))
    assert re.match(
        rf"\[{re.escape(section)}\] {key} must be given \(.+\); received nothing", message
    )


@pytest.mark.parametrize("section", ["geometry", "materials", "coil"])
@pytest.mark.parametrize("value", ["1", '"text"', "[]", "true", "1979-05-27"])
def test_section_that_is_no_table(section: str, value: str) -> None:
    table: dict[str, str] = {"geometry": "", "materials": "", "coil": ""}
    for name in table:
        block = re.search(rf"(?ms)^\[{name}\]\n.*?(?=^\[(?!{name}\.)|\Z)", OUTSIDE)
        assert block is not None
        table[name] = block[0]
    others = "\n".join(text for name, text in table.items() if name != section)
    message = refusal(f"{section} = {value}\n{others}")
    assert message.startswith(f"{section} must be a section [{section}]; received ")


RINGS = {
    "rings as a table": ('rings = {name = "a"}', "rings must be a list [[geometry.rings]]"),
    "ring as text": ('rings = ["a"]', "geometry.rings must be a section [geometry.rings]"),
    "ring without size": ('rings = [{name = "a"}]', "inner_diameter must be given"),
    "ring without name": (
        'rings = [{inner_diameter = "31 mm", outer_diameter = "32 mm", bottom = "-3 mm", '
        'height = "6 mm"}]',
        "[geometry.rings] name must be given",
    ),
    "ring inside out": (
        'rings = [{name = "a", inner_diameter = "33 mm", outer_diameter = "32 mm", '
        'bottom = "-3 mm", height = "6 mm"}]',
        "a.outer_diameter must be greater than inner_diameter, 33 mm; received 32 mm",
    ),
    "ring of nothing": (
        'rings = [{name = "a", inner_diameter = "31 mm", outer_diameter = "32 mm", '
        'bottom = "-3 mm", height = "0 mm"}]',
        "a.height must be greater than 0 mm; received 0 mm",
    ),
    "ring of gold": (
        'rings = [{name = "a", inner_diameter = "31 mm", outer_diameter = "31.4 mm", '
        'bottom = "-3 mm", height = "6 mm", material = "goldd"}]',
        "conductor must be a known one (known: copper, aluminium, cca-10, cca-15, silver, brass); "
        "received 'goldd'",
    ),
    "ring in the pole": (
        'rings = [{name = "a", inner_diameter = "30 mm", outer_diameter = "31.4 mm", '
        'bottom = "-3 mm", height = "6 mm"}]',
        "yoke and a must not overlap; received an overlap of 0.5 mm x 6 mm",
    ),
    "ring called air": (
        'rings = [{name = "air", inner_diameter = "31 mm", outer_diameter = "31.4 mm", '
        'bottom = "-3 mm", height = "6 mm"}]',
        "region name must be a lower-case identifier other than 'air'; received 'air'",
    ),
}


@pytest.mark.parametrize("case", RINGS)
def test_ring_that_cannot_be(case: str) -> None:
    line, expected = RINGS[case]
    assert expected in refusal(added(line, "geometry"))


STROKES = {
    "not a list": ('limits = "bl_82"', "[stroke] limits must be a list of names; received 'bl_82'"),
    "unknown limit": (
        'limits = ["bl_50"]',
        "[stroke] limits must name only bl_82, bl_70, overhang, mechanical; received 'bl_50'",
    ),
    "number": ("limits = [82]", "[stroke] limits must be text in quotes; received 82"),
    "none": ("limits = []", "[stroke] limits must name at least one of bl_82"),
    "misspelt key": ("limit = []", "[stroke] limit must be a known key (did you mean limits?)"),
}


@pytest.mark.parametrize("case", STROKES)
def test_stroke_rule_that_cannot_be(case: str) -> None:
    line, expected = STROKES[case]
    assert expected in refusal(f"{OUTSIDE}\n[stroke]\n{line}\n")


MOVING = {
    "mass in mm": ('mass = "8 mm"', "[moving_parts] mass must be a mass with its unit"),
    "bare mass": ("mass = 8", "received 8 (a bare number without a unit)"),
    "no mass": ('mass = "0 g"', "[moving_parts] mass must be greater than 0; received 0.0"),
    "negative": ('mass = "-8 g"', "[moving_parts] mass must be greater than 0; received -0.008"),
    "missing": ("", "[moving_parts] mass must be given"),
}


@pytest.mark.parametrize("case", MOVING)
def test_moving_parts_that_cannot_be(case: str) -> None:
    line, expected = MOVING[case]
    text = f'{OUTSIDE}\n[moving_parts]\nstiffness = "1 N/mm"\n{line}\n'
    assert expected in refusal(text)


def test_material_of_a_part_that_is_not_there() -> None:
    message = refusal(f'{OUTSIDE}\n[materials.parts]\npole = "low-carbon-b"\n')
    assert "materials.parts.pole must name one of the parts yoke, magnet, top_plate" in message


def test_magnet_grade_for_a_steel_part() -> None:
    message = refusal(f'{OUTSIDE}\n[materials.parts]\nyoke = "Y30"\n')
    assert "steel must be a known one (" in message
    assert message.endswith("received 'Y30'")


def test_magnet_record_for_a_steel_part() -> None:
    grade = Magnet("mine", 0.4, 1.05)
    with pytest.raises(InvalidInput, match="material of yoke must be a steel; received mine"):
        starter("outside-magnet").replace(
            materials=Materials(magnet="Y30", steel="low-carbon-a", parts={"yoke": grade})
        )


# parts that touch


def test_coil_that_touches_the_pole_is_told_the_clearance() -> None:
    message = refusal(edited("inner_diameter", '"30.9 mm"'))
    assert message.startswith("the coil's former must stay clear of yoke at rest; received ")
    assert message.endswith("a clearance of -0.05 mm")


def test_coil_that_touches_the_plate_is_told_the_clearance() -> None:
    message = refusal(edited("inner_diameter", '"33.1 mm"'))
    assert message.startswith("the coil's winding must stay clear of top_plate at rest; ")
    assert message.endswith("a clearance of -0.09 mm")


def test_coil_that_fits_without_any_clearance() -> None:
    message = refusal(edited("inner_diameter", '"31 mm"'))
    assert "coil must clear the parts on its inner side" in message
    assert "diameter 31 mm to 34.2 mm" in message
    assert "inner clearance 0 mm" in message


def test_coil_beside_the_gap_in_height_is_still_checked_in_it() -> None:
    text = added('rest_position = "40 mm"', "coil", edited("inner_diameter", '"33.1 mm"'))
    assert "outer clearance -0.09 mm" in refusal(text)


def test_coil_down_in_the_back_plate() -> None:
    message = refusal(edited("winding_height", '"40 mm"'))
    assert message.startswith("the coil's winding must stay clear of yoke at rest; received ")


def test_coil_in_the_sleeve() -> None:
    line = (
        'rings = [{name = "shield", inner_diameter = "31 mm", outer_diameter = "32 mm", '
        'bottom = "-3 mm", height = "6 mm"}]'
    )
    message = refusal(added(line, "geometry"))
    assert "must stay clear of shield at rest" in message
    assert message.endswith("a clearance of -0.05 mm")


def test_overlapping_parts_are_named_with_the_place() -> None:
    message = refusal(edited("magnet_inner_diameter", '"30 mm"'))
    assert message.startswith(
        "[geometry] yoke and magnet must not overlap; received an overlap of "
    )
    assert message.endswith(" x 15 mm at r = 15 mm, z = -18 mm")


# files


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
    "folder": (lambda p: p.mkdir(), "design file must be readable; received "),
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
