"""The workshop's sheet: every declared dimension appears or follows, and numbers can be read."""

from __future__ import annotations

import copy
import dataclasses
import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from geometries import Geometry, Ring
from geometries.drawing import assembly, places
from geometries.part_dimensions import number, part_dimensions
from geometries.views import LOOKS, View, spread
from motor.report.files.coil_views import gap_sizes
from motor.report.files.sheet import fits_of, part_view, sheet_svg
from motor.report.themes import theme
from tests.unit.geometries.options import BUMP, DISH, FIXED, FOOT, LIP, SECOND, UNDERCUT, example
from tests.unit.report.files.designs import DESIGNS, ODD_NAMES

STEP = 2e-5
"""How far each dimension is moved, metres; more than what counts as the same."""
SVG = "{http://www.w3.org/2000/svg}"

CAP = Ring(
    name="cap",
    inner_diameter=31e-3,
    outer_diameter=31.7e-3,
    bottom=-5.13e-3,
    height=12.4e-3,
    cover=0.3e-3,
    cover_inner_diameter=19.2e-3,
)
FULL: dict[str, Geometry] = {
    f"outside, {style}, {place}": example(
        "outside-magnet",
        **(DISH | BUMP | UNDERCUT),
        top_plate_thickness=9.2e-3,
        lip_step=1.1e-3,
        lip_style=style,
        lip_position=place,
        vent_diameter=9e-3,
        pole_extension=3.3e-3,
        pole_chamfer=0.7e-3,
        top_plate_chamfer=0.8e-3,
        back_plate_chamfer=0.9e-3,
        magnet_inner_diameter=44.4e-3,
        top_plate_outer_diameter=84.6e-3,
    )
    for style in ("step", "chamfer")
    for place in ("middle", "top", "bottom")
} | {
    "inside": example(
        "inside-magnet",
        **SECOND,
        lip_height=3.7e-3,
        cup_rise=0.6e-3,
        magnet_bore_diameter=8.2e-3,
        vent_diameter=6.1e-3,
        pole_plate_chamfer=0.4e-3,
        cup_chamfer=1.7e-3,
        lip_chamfer=0.35e-3,
    ),
    "ring": example(
        "outside-magnet",
        rings=(CAP,),
        pole_extension=1.15e-3,
        top_plate_thickness=9.2e-3,
        lip_step=1.1e-3,
    ),
    "foot": example("outside-magnet", **(FOOT | LIP), pole_chamfer=0.6e-3),
    "shielded": example(
        "shielded-magnet",
        **LIP,
        vent_diameter=9e-3,
        pole_extension=3.3e-3,
        pole_chamfer=0.7e-3,
        top_plate_outer_diameter=65.2e-3,
        back_plate_diameter=66.4e-3,
        can_chamfer=0.5e-3,
        can_height=37.3e-3,
        second_magnet_diameter=70.7e-3,
        second_magnet_bore=33.3e-3,
    ),
    "two gaps": example(
        "two-gap", vent_diameter=8e-3, shell_chamfer=0.6e-3, magnet_outer_diameter=34.3e-3
    ),
    **{
        f"radial ring, {place}": example(
            "radial-ring",
            ring_place=place,
            vent_diameter=5.3e-3,
            pole_extension=0.7e-3,
            yoke_chamfer=0.6e-3,
        )
        for place in ("around", "inside")
    },
}


def test_every_kind_with_dimensions_of_its_own_is_here() -> None:
    assert {geometry.kind for geometry in FULL.values()} == set(FIXED)


def shown(geometry: Geometry) -> list[float]:
    """Return every number on the sheets of parts and section, metres."""
    regions, gap = geometry.regions(), geometry.gap
    found = [z - places(regions, gap)[0][1] for _, z in places(regions, gap)]
    found += [gap.width, gap.depth]
    for region in regions:
        part = part_dimensions(region.outline, region.name)
        found += [2 * span.radial for span in part.diameters]
        found += [z - part.heights[0][1] for _, z in part.heights]
        found += [cut.size for cut in part.cuts]
    return found


def moved(geometry: Geometry, name: str) -> Geometry:
    """Return the geometry with one dimension moved, unchecked; a ring's as ``ring.name``."""
    ring, _, key = name.rpartition(".")
    found = copy.copy(geometry)
    record = copy.copy(found.rings[0]) if ring else found  # type: ignore[attr-defined]
    object.__setattr__(record, key, getattr(record, key) + STEP)
    if ring:
        object.__setattr__(found, "rings", (record,))
    return found


def declared(geometry: Geometry) -> list[str]:
    """Return the names of all lengths that are switched on."""
    rings = [("ring.", ring) for ring in geometry.rings]  # type: ignore[attr-defined]
    return [
        before + field.name
        for before, record in [("", geometry), *rings]
        for field in dataclasses.fields(record)
        if field.metadata.get("quantity") == "length" and getattr(record, field.name)
    ]


@pytest.mark.parametrize("name", FULL)
def test_every_declared_dimension_appears_or_follows_from_those_shown(name: str) -> None:
    """The numbers shown tell all declared ones: their derivatives have full rank."""
    geometry = FULL[name]
    names, base = declared(geometry), np.array(shown(geometry))
    columns = []
    for each in names:
        there = shown(moved(geometry, each))
        assert len(there) == len(base), each
        columns.append((np.array(there) - base) / STEP)
        assert np.abs(columns[-1]).max() > 0.4, each
    values = np.linalg.svd(np.array(columns), compute_uv=False)
    assert values[-1] > 0.05, dict(zip(names, values, strict=True))


@pytest.mark.parametrize("name", DESIGNS)
def test_the_sheet_names_every_part_and_shows_its_numbers(name: str) -> None:
    design = DESIGNS[name]
    root = ElementTree.fromstring(sheet_svg(design))
    texts = [element.text or "" for element in root.iter(f"{SVG}text")]
    assert "nan" not in " ".join(texts)
    for region in design.regions:
        words = region.name.replace("_", " ")
        assert words in texts
        part = part_dimensions(region.outline, region.name)
        wanted = [f"\u2300 {number(2 * span.radial)}" for span in part.diameters]
        wanted += [number(z - part.heights[0][1]) for _, z in part.heights]
        wanted += [cut.text for cut in part.cuts]
        assert set(wanted) <= set(texts), words
    radii, rooms, columns = gap_sizes(design)
    wanted = [text for _, text in (*radii, *rooms)]
    wanted += [number(span.axial) for column in columns for span in column]
    assert set(wanted) <= set(texts)
    assert root.attrib["width"] == f"{root.attrib['viewBox'].split()[2]}mm"


def test_nothing_stands_outside_the_frame_and_the_scale_is_true() -> None:
    design = DESIGNS["door_woofer_ferrite"]
    text = sheet_svg(design)
    assert ">scale 2 : 1, sheet A3; dimensions in mm at 20 degC<" in text
    magnet = re.search(r'<polygon points="([^"]*)"[^>]*><title>magnet</title>', text)
    assert magnet is not None
    across = [float(pair.split(",")[0]) for pair in magnet[1].split()]
    assert max(across) - min(across) == pytest.approx(2 * (86 - 42) / 2)
    places_ = re.findall(r"translate\(([-\d.]+) ([-\d.]+)\)\">", text)
    assert all(0 < float(x) < 420 and 0 < float(y) < 297 for x, y in places_)


@pytest.mark.parametrize("name", DESIGNS)
def test_numbers_stand_over_all_lines_and_cover_no_other(name: str) -> None:
    design = DESIGNS[name]
    gap, coil = design.geometry.gap, design.coil.outlines()
    views = [assembly(design.regions, gap, coil, (), View(2e3, 2.5, LOOKS["light"]))]
    views += [part_view(region, View(2e3, 2.5, LOOKS["light"])) for region in design.regions]
    for view in views:
        texts = [k for k, line in enumerate(view.drawing) if line.startswith(("<rect", "<text"))]
        assert texts == list(range(len(view.lines), len(view.drawing)))
        rooms = []
        for ground in view.texts[::2]:
            x, y, wide, tall = (float(n) for n in re.findall(r'="(-?[\d.]+)"', ground))
            rooms.append(shapely.box(x, y + 0.1 * tall, x + wide, y + 0.9 * tall))
        for one, other in itertools.combinations(rooms, 2):
            assert not one.intersects(other), view.texts


def test_fits_are_cylinders_that_two_parts_share() -> None:
    found = fits_of(DESIGNS["home_bass_long_stroke"].regions)
    assert [(a, b) for a, b, _ in found] == [
        ("copper sleeve", "yoke"),
        ("magnet", "aluminium ring"),
    ]
    assert [2e3 * r for _, _, r in found] == pytest.approx([48.6, 68])


def test_print_is_hatched_without_colour() -> None:
    with theme("print"):
        text = sheet_svg(DESIGNS["home_bass_long_stroke"])
    colours = set(re.findall(r"#([0-9a-f]{6})", text))
    assert {c for c in colours if not c[:2] == c[2:4] == c[4:]} == set()
    for part in ("steel", "magnet", "conductor"):
        assert f'id="hatch-{part}"' in text
        assert f"url(#hatch-{part})" in text


@pytest.mark.parametrize("title", ODD_NAMES)
def test_odd_titles_stay_text(title: str) -> None:
    root = ElementTree.fromstring(sheet_svg(DESIGNS["door_woofer_ferrite"].replace(name=title)))
    words = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    assert words in ["", *(element.text for element in root.iter(f"{SVG}text"))]


def test_places_are_spread_no_farther_than_needed() -> None:
    assert spread([0.0, 5.0], 2.0) == [0.0, 5.0]
    assert spread([0.0, 1.0], 2.0) == [-0.5, 1.5]
    found = np.array(spread([0.0, 0.1, 0.2, 9.0], 1.0))
    assert np.diff(found).min() >= 1.0 - 1e-12
    assert found.mean() == pytest.approx(np.mean([0.0, 0.1, 0.2, 9.0]))
