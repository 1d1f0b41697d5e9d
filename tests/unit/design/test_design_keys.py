"""Keys, names and sections of design files: unknown, misspelt or missing."""

from __future__ import annotations

import re

import pytest

from tests.unit.design.design_texts import OUTSIDE, added, edited, refusal, without

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
    assert message.startswith(f"[{section}] unknown key {key} (did you mean ")
    assert near in message


def test_unknown_key_is_told_all() -> None:
    message = refusal(added("qqqq = 1", "coil"))
    assert message.startswith("[coil] unknown key qqqq (known: inner_diameter, ")
    assert "travel_margin" in message


def test_misspelt_section() -> None:
    message = refusal(OUTSIDE.replace("[materials]", "[material]"))
    assert "unknown key material (did you mean materials" in message


def test_key_of_the_other_geometry() -> None:
    message = refusal(added('cup_outer_diameter = "50 mm"', "geometry"))
    assert message.startswith("[geometry] unknown key cup_outer_diameter")


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
