"""Parts of a design that cannot be: rings, materials of parts, parts that touch."""

from __future__ import annotations

import pytest

from geometries import InvalidInput
from motor.design.design import Materials
from motor.design.reading import design_from_toml, design_to_toml
from motor.design.starters import starter
from motor.materials import Magnet
from tests.unit.design.design_texts import OUTSIDE, added, edited, refusal

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


def test_material_of_a_part_that_is_not_there() -> None:
    message = refusal(f'{OUTSIDE}\n[materials.parts]\npole = "low-carbon-b"\n')
    assert "materials.parts.pole must name one of the parts yoke, magnet, top_plate" in message


def test_temperatures_of_parts_read_back_and_are_refused_where_they_cannot_be() -> None:
    text = f'{OUTSIDE}\n[materials.temperatures]\nmagnet = "80 degC"\n'
    design = design_from_toml(text)
    assert design.temperature_of("magnet") == 353.15
    assert design.temperature_of("yoke") == design.temperature
    assert design_from_toml(design_to_toml(design)) == design
    assert design.at(300.0).temperature_of("magnet") == 300.0
    unknown = refusal(text.replace('magnet = "80', 'pole = "80'))
    assert "materials.temperatures.pole must name one of the parts yoke, magnet" in unknown
    assert "must be between -60 and 250 degC" in refusal(text.replace("80 degC", "400 degC"))


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


def test_coil_that_touches_the_pole_is_told_the_clearance() -> None:
    message = refusal(edited("inner_diameter", '"30.9 mm"'))
    assert message.startswith("the coil's former must stay clear of yoke at rest; received ")
    assert "a clearance of -0.05 mm (change coil." in message


def test_coil_that_touches_the_plate_is_told_the_clearance() -> None:
    message = refusal(edited("inner_diameter", '"33.1 mm"'))
    assert message.startswith("the coil's winding must stay clear of top_plate at rest; ")
    assert "a clearance of -0.09 mm (change coil." in message


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
    assert "a clearance of -0.05 mm (change coil." in message


def test_overlapping_parts_are_named_with_the_place() -> None:
    message = refusal(edited("magnet_inner_diameter", '"30 mm"'))
    assert message.startswith(
        "[geometry] yoke and magnet must not overlap; received an overlap of "
    )
    assert message.endswith(" x 15 mm at r = 15 mm, z = -18 mm")
