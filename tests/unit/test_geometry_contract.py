"""Every registered geometry keeps the contract: shapes, options, ugly corners, strangers."""

from __future__ import annotations

import dataclasses
import math
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

import geometries.contract
from geometries import (
    RADIAL_IN,
    RADIAL_OUT,
    Gap,
    Geometry,
    InvalidInput,
    Point,
    Region,
    Ring,
    Role,
    free_gap,
    polygon,
    registered,
)
from geometries.contract import choice, length
from motor.field.field import Field
from motor.field.meshing import MotorMesh, generate
from motor.field.partition import ARC_SEGMENTS, partition
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import LinearSteel
from motor.result import solve
from motor.starters import starter
from tests.unit.options import (
    BESIDE,
    BUMP,
    DISH,
    LIP,
    SECOND,
    SLEEVE,
    UNDERCUT,
    example,
    length_fields,
    off_options,
    switched_on,
)

KINDS = sorted(registered())
MICROMETRE = 1e-6
GRID = 1e-9
AREA_GRAIN = 1e-12


def check_contract(geometry: Geometry) -> None:
    """Assert what every instance promises."""
    regions, gap = geometry.regions(), geometry.gap
    names = [region.name for region in regions]
    assert len(set(names)) == len(names)
    assert any(region.role is Role.MAGNET for region in regions)
    shapes = [polygon(region) for region in regions]
    for region, shape in zip(regions, shapes, strict=True):
        assert shape.is_valid, region.name
        assert shape.area > 0, region.name
        assert shape.bounds[0] >= 0, region.name
        assert (region.magnetisation is not None) == (region.role is Role.MAGNET)
        if region.magnetisation is not None:
            assert math.hypot(*region.magnetisation) == pytest.approx(1.0)
    for i, shape in enumerate(shapes):
        for other in shapes[:i]:
            assert shape.intersection(other).area <= AREA_GRAIN
    joined = {0}
    for _ in shapes:
        joined |= {
            j
            for j, shape in enumerate(shapes)
            for i in joined
            if shape.intersection(shapes[i]).length > GRID
        }
    assert joined == set(range(len(shapes)))
    assert gap.width > 0
    assert gap.depth > 0
    assert gap.bottom == pytest.approx(-gap.top, abs=1e-12)
    inner, outer = free_gap(regions, gap)
    assert gap.inner_radius <= inner < outer <= gap.outer_radius


def check_mesh(geometry: Geometry) -> MotorMesh:
    """Assert that the mesh covers the half disc once, part by part, without loose edges."""
    mesh = generate(partition(geometry.regions(), geometry.gap))
    grid, part = mesh.mesh, mesh.partition
    a, b, c = (grid.p[:, grid.t[k]] for k in range(3))
    area = 0.5 * np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
    assert area.min() > 0
    half_disc = 0.5 * part.radius**2 * ARC_SEGMENTS * math.sin(math.pi / ARC_SEGMENTS)
    assert area.sum() == pytest.approx(half_disc, abs=2 * GRID * math.pi * part.radius)
    assert len(mesh.label) == grid.nelements
    assert set(mesh.names) == {region.name for region in geometry.regions()} | {"air"}
    assert np.bincount(mesh.label, minlength=len(mesh.names)).min() > 0
    for region in geometry.regions():
        covered = area[mesh.triangles_of(region.name)].sum()
        perimeter = polygon(region).length
        assert covered == pytest.approx(polygon(region).area, abs=2 * GRID * perimeter)
    ends = grid.p[:, grid.facets[:, grid.boundary_facets()]]
    on_axis = ends[0] < 1e-12
    inside_arc = part.radius * math.cos(math.pi / ARC_SEGMENTS / 2) * (1 - 1e-6)
    on_arc = np.hypot(ends[0], ends[1] - part.centre) > inside_arc
    assert (on_axis.all(axis=0) | on_arc.all(axis=0)).all(), "an edge inside has one side only"
    return mesh


@pytest.mark.parametrize("kind", KINDS)
def test_example_keeps_the_contract(kind: str) -> None:
    geometry = registered()[kind].example()
    assert geometry.kind == kind
    assert geometry.title
    check_contract(geometry)


@pytest.mark.parametrize("kind", KINDS)
def test_example_is_meshed_without_gaps(kind: str) -> None:
    check_mesh(registered()[kind].example())


@pytest.mark.parametrize("kind", KINDS)
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


def sleeve_in(kind: str, **changes: Any) -> Ring:
    """Return a thin sleeve on the inner side of a geometry's gap, as tall as the gap."""
    gap = registered()[kind].example().gap
    return dataclasses.replace(
        SLEEVE,
        **{
            "inner_diameter": 2 * gap.inner_radius,
            "outer_diameter": 2 * gap.inner_radius + 0.2 * gap.width,
            "bottom": gap.bottom,
            "height": gap.depth,
            **changes,
        },
    )


# options


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
        for field in dataclasses.fields(cls)
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


@pytest.mark.parametrize("kind", KINDS)
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


# ugly corners that are fine


def corner_rings() -> dict[str, Ring]:
    """Return sleeves on the pole of the outside-magnet example that end in awkward places."""
    gap = registered()["outside-magnet"].example().gap
    pole_top, plate_bottom = gap.top + 3e-3, gap.bottom
    floor = plate_bottom - 15e-3
    return {
        "as tall as the gap": sleeve_in("outside-magnet"),
        "as tall as the pole": sleeve_in(
            "outside-magnet", bottom=floor, height=round(pole_top - floor, 9)
        ),
        "from the gap's middle up": sleeve_in(
            "outside-magnet", bottom=0.0, height=round(pole_top, 9)
        ),
        "on the outer face": sleeve_in(
            "outside-magnet",
            inner_diameter=2 * gap.outer_radius - 0.2 * gap.width,
            outer_diameter=2 * gap.outer_radius,
        ),
        "cap flush with the pole": sleeve_in(
            "outside-magnet",
            height=round(pole_top - gap.bottom, 9),
            cover=0.2e-3,
            cover_inner_diameter=0.0,
        ),
    }


@pytest.mark.parametrize("name", corner_rings())
def test_sleeve_that_ends_on_an_edge(name: str) -> None:
    geometry = example("outside-magnet", rings=(corner_rings()[name],))
    check_contract(geometry)
    check_mesh(geometry)


FINE = {
    "no extension": ("outside-magnet", {"pole_extension": 0.0}),
    "vent as wide as the magnet's bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8e-3},
    ),
    "lip as tall as the pole plate": ("inside-magnet", {"lip_height": 5e-3}),
    "second magnet narrower": ("inside-magnet", SECOND | {"second_magnet_diameter": 20e-3}),
    "second magnet wider": ("inside-magnet", SECOND | {"second_magnet_diameter": 30.5e-3}),
    "second magnet as wide as the plate": (
        "inside-magnet",
        SECOND | {"second_magnet_diameter": 31e-3},
    ),
    "plates and magnet in one line": (
        "outside-magnet",
        {"top_plate_outer_diameter": 90e-3, "back_plate_diameter": 90e-3},
    ),
    "undercut as deep as the magnet": (
        "outside-magnet",
        {"pole_undercut": 1e-3, "pole_undercut_height": 15e-3},
    ),
    "dish as wide as the magnet's bore": (
        "outside-magnet",
        DISH | {"back_plate_dish_diameter": 44e-3},
    ),
    "bump as wide as the dish": (
        "outside-magnet",
        DISH | BUMP | {"back_plate_dish_diameter": 42e-3, "back_plate_bump_diameter": 42e-3},
    ),
    "chamfer that leaves a sliver": ("outside-magnet", {"back_plate_chamfer": 5.999e-3}),
    "lip as deep as the plate": ("outside-magnet", LIP | {"lip_position": "top"}),
    "magnet as wide as the pole plate": ("inside-magnet", {"magnet_outer_diameter": 31e-3}),
    "rise up to the lip's height": ("inside-magnet", {"cup_rise": 4.9e-3}),
}


@pytest.mark.parametrize("name", FINE)
def test_ugly_corner_is_meshed(name: str) -> None:
    kind, changes = FINE[name]
    geometry = example(kind, **changes)
    check_contract(geometry)
    check_mesh(geometry)


# ugly corners that must be refused


REFUSED = {
    "chamfer longer than its edge": (
        "outside-magnet",
        {"back_plate_chamfer": 6.1e-3},
        "back_plate_chamfer must be smaller than the edge it cuts, 6 mm; received 6.1 mm",
    ),
    "pole chamfer through the vent": (
        "outside-magnet",
        {"vent_diameter": 29e-3, "pole_chamfer": 2e-3},
        "pole_chamfer must be smaller than the edge it cuts, 1 mm; received 2 mm",
    ),
    "gap deeper than the plate": (
        "outside-magnet",
        {"gap_depth": 7e-3},
        "gap_depth must be at most top_plate_thickness, 6 mm; received 7 mm",
    ),
    "step without room": (
        "outside-magnet",
        {"lip_step": 1e-3},
        "lip_step must be 0 mm where gap_depth equals top_plate_thickness; received 1 mm",
    ),
    "thick plate without a step": (
        "outside-magnet",
        {"top_plate_thickness": 9e-3},
        "lip_step must be greater than 0 mm",
    ),
    "vent as wide as the pole": (
        "outside-magnet",
        {"vent_diameter": 31e-3},
        "vent_diameter must be smaller than the pole at its narrowest, 31 mm; received 31 mm",
    ),
    "undercut without height": (
        "outside-magnet",
        {"pole_undercut": 1e-3},
        "pole_undercut_height must be greater than 0 mm",
    ),
    "undercut into the back plate": (
        "outside-magnet",
        {"pole_undercut": 1e-3, "pole_undercut_height": 15.1e-3},
        "pole_undercut_height must end above the back plate, within 15 mm; received 15.1 mm",
    ),
    "dish through the back plate": (
        "outside-magnet",
        DISH | {"back_plate_dish": 6e-3},
        "back_plate_dish must leave some of the back plate's 6 mm; received 6 mm",
    ),
    "magnet with no width": (
        "outside-magnet",
        {"magnet_inner_diameter": 90e-3},
        "magnet_outer_diameter must be greater than magnet_inner_diameter, 90 mm; received 90 mm",
    ),
    "magnet around the pole's radius": (
        "outside-magnet",
        {"magnet_inner_diameter": 30e-3},
        "yoke and magnet must not overlap",
    ),
    "vent wider than the magnet's bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8.1e-3},
        "vent_diameter must be at most magnet_bore_diameter, 8 mm; received 8.1 mm",
    ),
    "magnet into the cup's wall": (
        "inside-magnet",
        {"magnet_outer_diameter": 38e-3},
        "cup and magnet must not overlap",
    ),
    "lip down to the floor": (
        "inside-magnet",
        {"lip_height": 11e-3},
        "lip_height must end above the cup's floor, below 11 mm; received 11 mm",
    ),
    "rise as tall as the lip": (
        "inside-magnet",
        {"cup_rise": 5e-3},
        "cup_rise must leave the lip beside the pole plate, below 5 mm; received 5 mm",
    ),
    "gap of no width": (
        "inside-magnet",
        {"lip_step": 2.7e-3},
        "pole_plate_diameter must be smaller than the diameter inside the lip",
    ),
    "second magnet inside its own bore": (
        "inside-magnet",
        SECOND | {"magnet_bore_diameter": 10e-3, "second_magnet_diameter": 10e-3},
        "second_magnet_diameter must be greater than magnet_bore_diameter, 10 mm; received 10 mm",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_ugly_corner_is_refused(name: str) -> None:
    kind, changes, message = REFUSED[name]
    with pytest.raises(InvalidInput) as caught:
        example(kind, **changes)
    assert message in str(caught.value)


NEAR_RINGS = {
    "sleeve above the back plate": {"bottom": -18e-3 + MICROMETRE, "height": 10e-3},
    "sleeve short of the gap's top": {"height": 6e-3 - MICROMETRE},
    "sleeve just out of the gap": {"bottom": -13e-3, "height": 10e-3 - MICROMETRE},
    "sleeve off the pole": {"inner_diameter": 31e-3 + 2 * MICROMETRE},
    "sleeve off the plate": {
        "inner_diameter": 33.8e-3,
        "outer_diameter": 34.2e-3 - 2 * MICROMETRE,
    },
    "sleeve into the pole": {"inner_diameter": 31e-3 - 2 * MICROMETRE},
}
NEAR = {
    name: ("outside-magnet", {"rings": (sleeve_in("outside-magnet", **changes),)})
    for name, changes in NEAR_RINGS.items()
} | {
    "magnet short of the pole": (
        "outside-magnet",
        {"magnet_inner_diameter": 31e-3 + 2 * MICROMETRE},
    ),
    "magnet short of the cup": (
        "inside-magnet",
        {"magnet_outer_diameter": 36.2e-3 - 2 * MICROMETRE},
    ),
    "magnet over the rim": ("outside-magnet", {"top_plate_outer_diameter": 90e-3 - MICROMETRE}),
    "dish beside the magnet": (
        "outside-magnet",
        DISH | {"back_plate_dish_diameter": 44e-3 - MICROMETRE},
    ),
    "chamfer short of its edge": ("outside-magnet", {"back_plate_chamfer": 6e-3 - MICROMETRE}),
    "gap short of the plate": (
        "outside-magnet",
        {"gap_depth": 6e-3 - MICROMETRE, "lip_step": 1e-3},
    ),
    "chamfer as long as its edge": ("outside-magnet", {"back_plate_chamfer": 6e-3}),
    "gap half a micrometre wide": ("inside-magnet", {"lip_step": 2.5995e-3}),
    "thin gap": ("outside-magnet", {"gap_width": 10 * MICROMETRE}),
    "vent short of the bore": (
        "inside-magnet",
        {"magnet_bore_diameter": 8e-3, "vent_diameter": 8e-3 - MICROMETRE},
    ),
    "plate short of the magnet": (
        "inside-magnet",
        {"magnet_outer_diameter": 31e-3 + MICROMETRE},
    ),
}


def built_or_refused(kind: str, changes: dict[str, Any]) -> Geometry | InvalidInput:
    """Return the changed example, or the error that refuses it."""
    try:
        return example(kind, **changes)
    except InvalidInput as error:
        return error


@pytest.mark.parametrize("name", NEAR)
def test_parts_a_micrometre_apart_are_meshed_or_refused(name: str) -> None:
    kind, changes = NEAR[name]
    outcome = built_or_refused(kind, changes)
    if isinstance(outcome, InvalidInput):
        assert re.search(r" must .*; received .", str(outcome))
    else:
        check_contract(outcome)
        check_mesh(outcome)


def test_sleeve_that_fills_the_gap_is_refused() -> None:
    full = sleeve_in("outside-magnet", outer_diameter=34.2e-3)
    with pytest.raises(InvalidInput, match=r"sleeves in the gap must leave .*1\.6 mm free"):
        example("outside-magnet", rings=(full,))


def test_floating_ring_is_refused_with_its_distance() -> None:
    floating = sleeve_in("outside-magnet", inner_diameter=32e-3, outer_diameter=33e-3)
    with pytest.raises(InvalidInput, match=r"sleeve must touch the rest .* 0\.5 mm to yoke"):
        example("outside-magnet", rings=(floating,))


def test_two_rings_of_one_name_are_refused() -> None:
    low = sleeve_in("outside-magnet", height=2e-3)
    high = sleeve_in("outside-magnet", bottom=0.0, height=2e-3)
    with pytest.raises(InvalidInput, match="region name must be used once only; received 'sleeve'"):
        example("outside-magnet", rings=(low, high))


# a geometry from outside


def rectangle(inner: float, outer: float, bottom: float, top: float) -> tuple[Point, ...]:
    """Return a rectangular section."""
    return ((inner, bottom), (outer, bottom), (outer, top), (inner, top))


@pytest.fixture
def radial_stack() -> Iterator[type[Geometry]]:
    """Declare a geometry the project does not know: a radially magnetised ring in a yoke."""

    @dataclass(frozen=True, kw_only=True)
    class RadialStack(Geometry, kind="test-radial-stack"):
        """A ring magnet on the wall of a yoke, facing the pole across the gap."""

        title = "radially magnetised ring"

        pole_diameter: float = length("outer diameter of the pole")
        gap_width: float = length("distance from pole to magnet")
        magnet_width: float = length("radial thickness of the magnet")
        magnet_height: float = length("axial height of the magnet")
        wall: float = length("thickness of the yoke's wall and floor")
        direction: str = choice("where the magnet points", ("in", "out"))

        @property
        def gap(self) -> Gap:
            pole, half = self.pole_diameter / 2, self.magnet_height / 2
            return Gap(pole, pole + self.gap_width, -half, half)

        def regions(self) -> tuple[Region, ...]:
            gap = self.gap
            face = gap.outer_radius + self.magnet_width
            floor = gap.bottom - 0.75 * self.magnet_height
            yoke = (
                (0.0, floor - self.wall),
                (face + self.wall, floor - self.wall),
                (face + self.wall, gap.top),
                (face, gap.top),
                (face, floor),
                (gap.inner_radius, floor),
                (gap.inner_radius, gap.top),
                (0.0, gap.top),
            )
            magnet = rectangle(gap.outer_radius, face, gap.bottom, gap.top)
            towards = RADIAL_IN if self.direction == "in" else RADIAL_OUT
            return (
                Region("yoke", Role.STEEL, yoke),
                Region("magnet", Role.MAGNET, magnet, magnetisation=towards),
            )

        @classmethod
        def example(cls) -> RadialStack:
            return cls(
                pole_diameter=24e-3,
                gap_width=1.5e-3,
                magnet_width=3e-3,
                magnet_height=24e-3,
                wall=5e-3,
            )

    try:
        yield RadialStack
    finally:
        del geometries.contract._registry["test-radial-stack"]


REMANENCE, RECOIL = 0.4, 1.05


def radial_field(geometry: Geometry) -> Field:
    """Solve a radial stack with steel of nearly no resistance."""
    steel = LinearSteel("ideal", 7850.0, "", relative_permeability=1e6).curve()
    (magnet,) = (r for r in geometry.regions() if r.role is Role.MAGNET)
    assert magnet.magnetisation is not None
    m_r, m_z = magnet.magnetisation
    state = MagnetState((REMANENCE * m_r, REMANENCE * m_z), RECOIL)
    return solve_field(geometry.regions(), geometry.gap, {"yoke": steel}, {"magnet": state})


def test_stranger_registers_under_its_kind(radial_stack: type[Geometry]) -> None:
    assert registered()["test-radial-stack"] is radial_stack
    check_contract(radial_stack.example())
    check_mesh(radial_stack.example())


def test_stranger_leaves_no_trace() -> None:
    assert "test-radial-stack" not in registered()


def test_radial_ring_gives_the_closed_form_of_a_long_gap(radial_stack: type[Geometry]) -> None:
    """Without fringing B = C / r, with C from Ampere's law across magnet and gap."""
    geometry = radial_stack.example()
    gap = geometry.gap
    back = gap.outer_radius + geometry.magnet_width  # type: ignore[attr-defined]
    closed = (REMANENCE * (back - gap.outer_radius)) / (
        math.log(back / gap.outer_radius) + RECOIL * math.log(gap.outer_radius / gap.inner_radius)
    )
    b_r, b_z = radial_field(geometry).flux_density(gap.mean_radius, 0.0)
    assert -b_r * gap.mean_radius == pytest.approx(closed, rel=0.01)
    assert abs(b_z) < 0.01 * abs(b_r)


def test_turning_the_ring_turns_the_field(radial_stack: type[Geometry]) -> None:
    inward = radial_stack.example()
    outward = dataclasses.replace(inward, direction="out")
    r = np.linspace(1e-3, 30e-3, 7)[:, None]
    z = np.linspace(-30e-3, 30e-3, 9)
    one, other = radial_field(inward), radial_field(outward)
    psi = one.flux_function(r, z)
    assert np.abs(psi).max() > 1e-6
    assert np.abs(psi + other.flux_function(r, z)).max() < 1e-6 * np.abs(psi).max()


def test_stranger_goes_all_the_way(radial_stack: type[Geometry]) -> None:
    result = solve(starter(radial_stack.kind))
    assert result.bl_curve.at_rest.value > 0
    assert result.field.residual < 1e-6
    assert result.flux_budget.magnet.value > result.flux_budget.gap.value > 0
