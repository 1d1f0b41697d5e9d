"""Values in design files: what has no unit, the wrong one, or a size that cannot be."""

from __future__ import annotations

import re

import pytest

from tests.unit.design.design_texts import OUTSIDE, added, edited, refusal

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


STROKES = {
    "not a list": ('limits = "bl_82"', "[stroke] limits must be a list of names; received 'bl_82'"),
    "unknown limit": (
        'limits = ["bl_50"]',
        "[stroke] limits must name only bl_82, bl_70, overhang, mechanical, compliance, "
        "inductance; received 'bl_50'",
    ),
    "number": ("limits = [82]", "[stroke] limits must be text in quotes; received 82"),
    "none": ("limits = []", "[stroke] limits must name at least one of bl_82"),
    "misspelt key": ("limit = []", "[stroke] unknown key limit (did you mean limits?)"),
}


@pytest.mark.parametrize("case", STROKES)
def test_stroke_rule_that_cannot_be(case: str) -> None:
    line, expected = STROKES[case]
    assert expected in refusal(f"{OUTSIDE}\n[stroke]\n{line}\n")


MOVING = {
    "mass in mm": ('mass = "8 mm"', "[moving_parts] mass must be a mass with its unit"),
    "bare mass": ("mass = 8", "received 8 (a bare number without a unit)"),
    "no mass": (
        'mass = "0 g"',
        "mass must be between 0.001 g and 10000 g; received 0 g",
    ),
    "negative": (
        'mass = "-8 g"',
        "between 0.001 g and 10000 g; received -8 g",
    ),
    "missing": ("", "[moving_parts] mass must be given"),
}


@pytest.mark.parametrize("case", MOVING)
def test_moving_parts_that_cannot_be(case: str) -> None:
    line, expected = MOVING[case]
    text = f'{OUTSIDE}\n[moving_parts]\nstiffness = "1 N/mm"\n{line}\n'
    assert expected in refusal(text)
