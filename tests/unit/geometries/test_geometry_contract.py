"""Every registered geometry keeps the contract, with any of its options and with all at once."""

from __future__ import annotations

import dataclasses
import math
import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest

from geometries import Geometry, InvalidInput, free_gap, registered
from tests.unit.geometries.geometry_checks import check_contract, check_mesh
from tests.unit.geometries.options import (
    BESIDE,
    BUMP,
    DISH,
    FIXED,
    LIP,
    SECOND,
    UNDERCUT,
    example,
    length_fields,
    off_options,
    own_fields,
    sleeve_in,
    switched_on,
)

KINDS = sorted(registered())


@pytest.mark.parametrize("kind", KINDS)
def test_example_keeps_the_contract(kind: str) -> None:
    geometry = registered()[kind].example()
    assert geometry.kind == kind
    assert geometry.title
    check_contract(geometry)


@pytest.mark.parametrize("kind", KINDS)
def test_example_is_meshed_without_gaps(kind: str) -> None:
    check_mesh(registered()[kind].example())


@pytest.mark.parametrize("kind", FIXED)
def test_every_field_explains_itself(kind: str) -> None:
    for field in dataclasses.fields(registered()[kind]):
        if field.name != "rings":
            assert field.metadata["doc"], field.name
            assert field.metadata["quantity"] in ("length", "choice"), field.name


@pytest.mark.parametrize("kind", KINDS)
def test_drawing_is_xml_that_names_every_part(kind: str) -> None:
    geometry = example(kind, rings=(sleeve_in(kind),))
    root = ElementTree.fromstring(geometry._repr_svg_())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    texts = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    titles = [element.text for element in root.iter("{http://www.w3.org/2000/svg}title")]
    assert geometry.title in texts
    for region in geometry.regions():
        assert region.name in titles
        assert region.name.replace("_", " ") in texts
    assert "nan" not in geometry._repr_svg_()


@pytest.mark.parametrize(("kind", "name"), off_options())
def test_option_changes_shape_and_mesh(kind: str, name: str) -> None:
    geometry = switched_on(kind, name)
    check_contract(geometry)
    field = next(f for f in dataclasses.fields(geometry) if f.name == name)
    off = field.metadata["options"][0] if "options" in field.metadata else field.default
    assert getattr(geometry, name) != off
    try:
        without: Geometry = dataclasses.replace(geometry, **{name: off})
    except InvalidInput:
        without = registered()[kind].example()
    assert geometry.regions() != without.regions()
    check_mesh(geometry)


@pytest.mark.parametrize(("kind", "name"), length_fields())
def test_every_length_moves_something(kind: str, name: str) -> None:
    is_option = (kind, name) in off_options()
    beside = BESIDE.get(kind, {}).get(name, {})
    base = switched_on(kind, name) if is_option else example(kind, **beside)
    moved = []
    for factor in (0.98, 1.02):
        try:
            changed = dataclasses.replace(base, **{name: getattr(base, name) * factor})
        except InvalidInput:
            continue
        check_contract(changed)
        moved.append(changed.regions() != base.regions())
    assert moved
    assert all(moved)


@pytest.mark.parametrize(
    ("kind", "name", "option"),
    [
        (kind, field.name, option)
        for kind, cls in registered().items()
        for field in own_fields(cls)
        for option in field.metadata.get("options", ())
    ],
)
def test_every_choice_draws_something_else(kind: str, name: str, option: str) -> None:
    beside = BESIDE.get(kind, {}).get(name, {})
    field = next(f for f in dataclasses.fields(registered()[kind]) if f.name == name)
    own = example(kind, **{**beside, name: option})
    check_contract(own)
    for other in field.metadata["options"]:
        if other != option:
            assert example(kind, **{**beside, name: other}).regions() != own.regions()
    with pytest.raises(InvalidInput, match=rf"{name} must be one of .*{option}.*received 'no'"):
        example(kind, **{**beside, name: "no"})


@pytest.mark.parametrize("kind", KINDS)
def test_ring_is_a_region_of_its_own(kind: str) -> None:
    without = example(kind)
    geometry = example(kind, rings=(sleeve_in(kind),))
    check_contract(geometry)
    names = {region.name for region in geometry.regions()}
    assert names == {region.name for region in without.regions()} | {"sleeve"}
    free = free_gap(geometry.regions(), geometry.gap)
    assert free[0] == pytest.approx(geometry.gap.inner_radius + 0.1 * geometry.gap.width)
    check_mesh(geometry)


@pytest.mark.parametrize("kind", FIXED)
@pytest.mark.parametrize("value", [-1e-3, 9e-6, 1.1, math.inf, math.nan, "8 mm", True, None])
def test_length_outside_the_drawing_is_refused(kind: str, value: Any) -> None:
    name = next(
        f.name for f in dataclasses.fields(registered()[kind]) if f.default is dataclasses.MISSING
    )
    with pytest.raises(InvalidInput, match=rf"^{name} must be ") as caught:
        example(kind, **{name: value})
    assert caught.value.field == name


def all_on() -> list[Geometry]:
    """Return motors with all options on at once."""
    outside = example(
        "outside-magnet",
        **LIP | DISH | BUMP | UNDERCUT,
        vent_diameter=8e-3,
        pole_chamfer=1e-3,
        top_plate_chamfer=1e-3,
        back_plate_chamfer=1e-3,
        rings=(sleeve_in("outside-magnet"),),
    )
    inside = example(
        "inside-magnet",
        **SECOND,
        magnet_bore_diameter=9e-3,
        vent_diameter=6e-3,
        lip_height=3e-3,
        cup_rise=0.5e-3,
        pole_plate_chamfer=0.5e-3,
        cup_chamfer=1e-3,
        lip_chamfer=0.5e-3,
    )
    return [outside, inside]


@pytest.mark.parametrize("geometry", all_on(), ids=lambda g: g.kind)
def test_all_options_together(geometry: Geometry) -> None:
    check_contract(geometry)
    check_mesh(geometry)
