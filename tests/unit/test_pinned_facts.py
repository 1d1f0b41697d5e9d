"""Tests of facts that nothing else pins down.

Each expected value comes from a drawing, hand arithmetic, a closed form or a published table,
not from the code that it checks.
"""

from __future__ import annotations

import csv
import dataclasses
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
import shapely

from geometries import (
    AXIAL_UP,
    Gap,
    Point,
    Region,
    Ring,
    Role,
    polygon,
    radial_room,
    registered,
    volume,
)
from geometries.outlines import chamfer, rectangle
from motor import starter
from motor.arrays import Floats
from motor.coil import Coil
from motor.curves.bl import bl_curve
from motor.curves.loaded import loaded_coil
from motor.curves.profile import FluxProfile
from motor.design import Design, StrokeRules
from motor.design_file import design_from_toml
from motor.field.field import BOUNDARY, ErrorModel, Field, prolong
from motor.field.meshing import Sizing
from motor.field.partition import partition
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import MU0, BHCurve, LinearSteel, magnet_named, steel_named
from motor.report.files import save
from motor.result import MotorResult, read_off, solve
from motor.wire import FlatWire, Wire, wire_of_size
from tests.random_motors import random_designs
from tests.unit.options import example
from tests.verification.coverage import samples

MM = 1e-3
KINDS = sorted(registered())
Solved = Callable[[str], MotorResult]


def box(inner: float, outer: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the outline in metres of a rectangle given in millimetres."""
    return tuple(rectangle(inner * MM, outer * MM, low * MM, high * MM))


# the coil, by hand


def coil(**changes: Any) -> Coil:
    """Return two layers of 40 turns of 0.3 mm wire on a former 31.6 mm wide and 0.1 mm thick."""
    values: dict[str, Any] = {
        "inner_diameter": 31.6 * MM,
        "winding_height": 12 * MM,
        "layers": 2,
        "wire": Wire(bare_diameter=0.25 * MM, overall_diameter=0.3 * MM),
        "former_thickness": 0.1 * MM,
    }
    return Coil(**values | changes)


def test_two_equal_windings_in_parallel_are_a_quarter_of_the_resistance() -> None:
    """Each holds half the wire, and two of them share the current."""
    series, parallel = coil(windings=2), coil(windings=2, connection="parallel")
    assert parallel.resistance() == pytest.approx(series.resistance() / 4)
    assert series.turns_in_series == 80
    assert parallel.turns_in_series == 40
    assert parallel.wire_length == series.wire_length
    four = coil(windings=4, connection="parallel")
    assert four.resistance() == pytest.approx(series.resistance() / 16)
    assert four.turns_in_series == 20


def test_motor_constant_does_not_depend_on_the_connection(solved: Solved) -> None:
    """The same copper in the same field: Bl^2/R is that of the section, however it is joined."""
    result = solved("outside-magnet")
    own = result.design.coil
    results = [
        read_off(
            result.design.replace(coil=dataclasses.replace(own, windings=2, connection=connection)),
            result.field,
        )
        for connection in ("series", "parallel")
    ]
    series, parallel = results
    assert parallel.motor_constant.value == pytest.approx(series.motor_constant.value)
    assert parallel.bl_curve.at_rest.value == pytest.approx(series.bl_curve.at_rest.value / 2)
    loaded = [r.loaded(1 * MM, 0.2 * n).force.value for r, n in zip(results, (1, 2), strict=True)]
    assert loaded[1] == pytest.approx(loaded[0], rel=1e-6)


def test_flat_wire_stands_on_edge() -> None:
    """A conductor of 0.2 x 0.8 mm in 0.03 mm of enamel: 0.23 mm along the coil, 0.83 mm across."""
    wire = FlatWire(thickness=0.2 * MM, width=0.8 * MM, insulation=0.03 * MM)
    one = coil(wire=wire, layers=1, winding_height=11.5 * MM)
    assert one.turns == 50
    assert one.build_up == pytest.approx(0.83 * MM)
    assert wire.conductor_area == pytest.approx(0.16e-6)
    assert wire.overall_area == pytest.approx(0.1909e-6)


def test_enamel_by_hand() -> None:
    """Ring of pi/4 (0.3^2 - 0.25^2) mm^2 = 0.0215984 mm^2 at 1400 kg/m^3: 30.238 mg per metre."""
    one = coil()
    enamel = (one.mass_with_enamel - one.mass) / one.wire_length
    assert enamel == pytest.approx(30.238e-6, rel=1e-4)


def test_former_by_hand() -> None:
    """A tube of 31.6 and 31.8 mm, 22 mm long, of aluminium (2700 kg/m^3): 591.6 mg."""
    one = coil(former_material="aluminium", former_below=4 * MM, former_above=6 * MM)
    section = math.pi / 4 * (31.8**2 - 31.6**2)
    assert one.former_mass == pytest.approx(section * 22 * 2700e-9)
    assert one.former_mass == pytest.approx(0.5916e-3, rel=1e-3)
    assert coil(former_material="").former_mass == 0.0


@pytest.mark.parametrize(("gauge", "bare"), [(20, 0.8118), (30, 0.2546), (36, 0.1270)])
def test_gauge_diameters_are_the_published_ones(gauge: int, bare: float) -> None:
    """Diameters in mm as ASTM B258 prints them."""
    assert wire_of_size(f"AWG {gauge}").bare_diameter == pytest.approx(bare * MM, rel=3e-4)


@pytest.mark.parametrize(
    ("size", "grade", "bare", "overall"),
    [
        ("0.224 mm", 1, 0.224, 0.252),
        ("0.224 mm", 2, 0.224, 0.266),
        ("AWG 20", 1, 0.8118, 0.8611),
        ("AWG 20", 2, 0.8118, 0.8915),
    ],
)
def test_enamelled_wire_is_as_wide_as_the_standard_says(
    size: str, grade: int, bare: float, overall: float
) -> None:
    """Largest overall diameters of IEC 60317-0-1 and NEMA MW 1000, in mm."""
    wire = wire_of_size(size, grade=grade)
    assert wire.bare_diameter == pytest.approx(bare * MM, rel=1e-4)
    assert wire.overall_diameter == pytest.approx(overall * MM, rel=1e-9)


# shapes, by hand


@pytest.mark.parametrize(
    ("outline", "expected"),
    [
        (box(0, 10, 0, 20), math.pi * 10**2 * 20),
        (box(22, 45, 0, 15), math.pi * (45**2 - 22**2) * 15),
        (((0.0, 0.0), (6 * MM, 0.0), (0.0, 9 * MM)), math.pi * 6**2 * 9 / 3),
    ],
    ids=["cylinder", "ring", "cone"],
)
def test_volume_of_a_body_of_revolution(outline: tuple[Point, ...], expected: float) -> None:
    assert volume(Region("part", Role.STEEL, outline)) == pytest.approx(expected * MM**3)


def test_mass_of_a_ring_magnet(solved: Solved) -> None:
    """90 x 44 x 15 mm of ferrite at 4900 kg/m^3: 355.8 g."""
    result = solved("outside-magnet")
    expected = math.pi / 4 * (0.090**2 - 0.044**2) * 0.015 * 4900
    assert result.masses["magnet"] == pytest.approx(expected)
    assert result.summary()["magnet_mass_g"] == pytest.approx(355.8, rel=1e-3)


def test_free_radii_end_at_the_nearest_faces() -> None:
    """Parts at 0 to 10 and 20 to 25 mm radius, and one at 14 to 30 mm far above."""
    parts = [
        Region("core", Role.STEEL, box(0, 10, -5, 5)),
        Region("shell", Role.STEEL, box(20, 25, -5, 5)),
        Region("roof", Role.STEEL, box(14, 30, 8, 9)),
    ]
    assert radial_room(parts, 15 * MM, -3 * MM, 3 * MM) == pytest.approx((10 * MM, 20 * MM))
    assert radial_room(parts, 12 * MM, 7 * MM, 10 * MM) == pytest.approx((0.0, 14 * MM))


def test_chamfer_takes_its_size_off_both_edges() -> None:
    cut = chamfer(box(0, 10, 0, 5), (10 * MM, 5 * MM), 1 * MM, "chamfer")
    np.testing.assert_allclose(
        np.array(cut) / MM, [(0, 0), (10, 0), (10, 4), (9, 5), (0, 5)], atol=1e-9
    )


@pytest.mark.parametrize(
    ("position", "bottom", "top"), [("top", -6, 3), ("middle", -4.5, 4.5), ("bottom", -3, 6)]
)
def test_gap_at_the_top_has_its_plate_below_it(position: str, bottom: float, top: float) -> None:
    """A plate of 9 mm around a gap of 6 mm; the gap is from -3 to 3 mm."""
    geometry = example(
        "outside-magnet",
        top_plate_thickness=9 * MM,
        lip_step=1 * MM,
        lip_position=position,
    )
    plate = next(r for r in geometry.regions() if r.name == "top_plate")
    heights = [z for _, z in plate.outline]
    assert (min(heights) / MM, max(heights) / MM) == pytest.approx((bottom, top))
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    assert max(z for _, z in yoke.outline) / MM == pytest.approx(top + 3)


def test_undercut_is_as_tall_as_drawn() -> None:
    geometry = example(
        "outside-magnet",
        pole_undercut=1 * MM,
        pole_undercut_height=5 * MM,
    )
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    neck = [z / MM for r, z in yoke.outline if r == pytest.approx(14.5 * MM)]
    assert sorted(neck) == pytest.approx([-8, -3])


def test_dish_is_a_recess_beside_the_pole() -> None:
    """The back plate's upper face lies at -18 mm, the dish 2 mm lower out to 21 mm radius."""
    geometry = example(
        "outside-magnet",
        back_plate_dish=2 * MM,
        back_plate_dish_diameter=42 * MM,
    )
    yoke = next(r for r in geometry.regions() if r.name == "yoke")
    shape = {(round(r / MM, 6), round(z / MM, 6)) for r, z in yoke.outline}
    assert {(15.5, -20.0), (21.0, -20.0), (21.0, -18.0)} <= shape


def test_lip_and_plate_of_the_inside_magnet_face_each_other() -> None:
    """A plate of 5 mm, a lip of 3 mm that rises 1 mm above it: 2 mm of them overlap."""
    geometry = example(
        "inside-magnet",
        lip_height=3 * MM,
        cup_rise=1 * MM,
    )
    assert geometry.gap.depth == pytest.approx(2 * MM)
    plate = next(r for r in geometry.regions() if r.name == "pole_plate")
    heights = [z / MM for _, z in plate.outline]
    assert (min(heights), max(heights)) == pytest.approx((-4, 1))
    cup = next(r for r in geometry.regions() if r.name == "cup")
    lip = [z / MM for r, z in cup.outline if r == pytest.approx(16.6 * MM)]
    assert sorted(lip) == pytest.approx([-1, 2])


def test_cap_lies_on_top_of_its_sleeve() -> None:
    ring = Ring(
        name="cap",
        inner_diameter=31 * MM,
        outer_diameter=31.4 * MM,
        bottom=-3 * MM,
        height=9 * MM,
        cover=0.2 * MM,
        cover_inner_diameter=8 * MM,
    )
    corners = {(round(r / MM, 6), round(z / MM, 6)) for r, z in ring.outline()}
    expected = {(15.5, -3), (15.7, -3), (15.7, 6.2), (4, 6.2), (4, 6), (15.5, 6)}
    assert corners == expected


def test_gap_lies_on_the_grid_of_the_outlines() -> None:
    """Rounded to a nanometre: no noise of halved diameters, and no coarser."""
    gap = Gap(0.1 + 0.2, 0.300123456789, -0.0012345678, 1.0000000004)
    assert gap.inner_radius == 0.3
    assert gap.outer_radius == 0.300123457
    assert gap.bottom == -0.001234568
    assert gap.top == 1.0


def test_second_magnet_pushes_the_flux_into_the_gap() -> None:
    """It opposes the first: with it the gap's field rises, and both magnets' flux adds up."""
    base = starter("inside-magnet")
    helped = dataclasses.replace(
        base.geometry,
        second_magnet_thickness=3 * MM,
        second_magnet_diameter=27 * MM,
    )
    one, two = (solve(base.replace(geometry=g)) for g in (base.geometry, helped))
    assert two.bl_curve.at_rest.value > 1.02 * one.bl_curve.at_rest.value
    assert two.flux_budget.magnet.value > 1.1 * one.flux_budget.magnet.value


# one drawing, all its distances


def drawn(**changes: Any) -> Design:
    """Return the outside-magnet starter with a tall former and a shading ring above the coil.

    Pole 31 mm, gap 1.6 mm wide and from -3 to 3 mm high, back plate at -18 mm.  The winding
    goes from -5 to 7 mm with its middle at 1 mm, at radii of 15.9 to 16.5 mm; the former's foot
    lies at -9 mm.  The ring's cover reaches in to 16.2 mm radius at 15 mm height.
    """
    ring = Ring(
        name="hood",
        inner_diameter=40 * MM,
        outer_diameter=44 * MM,
        bottom=3 * MM,
        height=12 * MM,
        cover=1 * MM,
        cover_inner_diameter=32.4 * MM,
    )
    base = starter("outside-magnet")
    geometry = dataclasses.replace(base.geometry, rings=(ring,))
    own: dict[str, Any] = {"former_below": 4 * MM, "travel_margin": 0.7 * MM}
    return base.replace(geometry=geometry, coil=coil(rest_position=1 * MM, **own | changes))


def test_distances_of_the_drawing() -> None:
    design = drawn()
    assert design.overhang == pytest.approx(3 * MM)
    assert design.clearance.inner == pytest.approx(0.3 * MM)
    assert design.clearance.outer == pytest.approx(0.6 * MM)
    assert design.contact.inward == pytest.approx(9 * MM)
    assert design.contact.outward == pytest.approx(8 * MM)
    assert design.travel.inward == pytest.approx(8.3 * MM)
    assert design.travel.outward == pytest.approx(7.3 * MM)
    assert design.travel.limit == pytest.approx(7.3 * MM)


def test_a_winding_without_former_goes_deeper() -> None:
    free = drawn(former_thickness=0.0, former_below=0.0).contact
    assert free.inward == pytest.approx(13 * MM)
    assert drawn(former_below=0.0).contact.inward == pytest.approx(13 * MM)


def test_an_underhung_coil_has_a_negative_overhang() -> None:
    assert drawn(winding_height=3 * MM).overhang == pytest.approx(-1.5 * MM)


def test_travel_ends_at_the_margin_and_never_below_zero() -> None:
    travel = drawn(travel_margin=8.5 * MM).travel
    assert travel.outward == 0.0
    assert travel.inward == pytest.approx(0.5 * MM)


@pytest.fixture(scope="module")
def warm() -> MotorResult:
    """Return the drawn motor solved at 100 degC."""
    return solve(drawn().replace(temperature=373.15))


@pytest.mark.parametrize(
    ("key", "expected"),
    {
        "temperature_degC": 100,
        "gap_width_mm": 1.6,
        "gap_depth_mm": 6,
        "winding_height_mm": 12,
        "winding_build_up_mm": 0.6,
        "rest_position_mm": 1,
        "overhang_mm": 3,
        "clearance_inner_mm": 0.3,
        "clearance_outer_mm": 0.6,
        "mechanical_limit_mm": 7.3,
        "mechanical_limit_inward_mm": 8.3,
        "mechanical_limit_outward_mm": 7.3,
        "turns": 80,
        "wire_length_m": 2 * math.pi * 16.2e-3 * 80,
        "coil_mass_g": 2 * math.pi * 16.2e-3 * 80 * 8890 * math.pi / 4 * 0.25e-3**2 * 1e3,
        "coil_resistance_ohm": 1.3144 * 1.7241e-8 * 2 * 16.2e-3 * 80 * 4 / 0.25e-3**2,
    }.items(),
)
def test_summary_is_in_the_units_of_its_names(warm: MotorResult, key: str, expected: float) -> None:
    assert warm.summary()[key] == pytest.approx(expected)


def test_figures_of_the_summary_fit_each_other(warm: MotorResult) -> None:
    """Each by its definition from others, in the units of the names."""
    record = warm.summary()
    around = 2 * math.pi * 16.2e-3
    flux = record["mean_gap_flux_density_T"] * around * record["gap_depth_mm"] * MM
    assert record["gap_flux_mWb"] == pytest.approx(flux * 1e3)
    assert record["leakage_factor"] == pytest.approx(
        record["magnet_flux_mWb"] / record["gap_flux_mWb"]
    )
    assert 1.0 < record["leakage_factor"] < 5.0
    assert record["other_flux_mWb"] == pytest.approx(
        record["magnet_flux_mWb"] - record["gap_flux_mWb"]
    )
    assert record["motor_constant_N2_per_W"] == pytest.approx(
        record["bl_at_rest_Tm"] ** 2 / record["coil_resistance_ohm"]
    )
    curve = warm.bl_curve
    for name, share in (("82", 0.82), ("70", 0.70)):
        inward, outward = (record[f"stroke_{name}_{side}_mm"] for side in ("inward", "outward"))
        assert record[f"stroke_{name}_mm"] == min(inward, outward)
        for x in (-inward * MM, outward * MM):
            assert float(curve(x)) == pytest.approx(share * record["bl_at_rest_Tm"], rel=1e-4)
    assert float(curve(record["bl_peak_position_mm"] * MM)) == pytest.approx(record["bl_peak_Tm"])
    limits = ("stroke_82_mm", "stroke_70_mm", "overhang_mm", "mechanical_limit_mm")
    assert record["usable_stroke_mm"] == min(record[name] for name in limits)
    best = record["best_rest_position_mm"]
    assert -6 < best < 6
    assert record["best_rest_position_stroke_82_mm"] > 0.9 * record["stroke_82_mm"]


def test_ferrite_is_weaker_when_warm(warm: MotorResult) -> None:
    """The working point lies on the recoil line of Br (1 - 0.2 % per kelvin), 80 K up."""
    (point,) = warm.summary()["working_points"]
    remanence = point["flux_density_T"] - MU0 * 1.07 * point["field_kA_per_m"] * 1e3
    assert remanence == pytest.approx(0.385 * (1 - 0.002 * 80), rel=1e-6)
    assert point["field_kA_per_m"] < 0 < point["flux_density_T"]
    permeance = -point["flux_density_T"] / (MU0 * point["field_kA_per_m"] * 1e3)
    assert point["permeance"] == pytest.approx(permeance)


def test_usable_stroke_asks_only_the_limits_that_the_design_names(warm: MotorResult) -> None:
    for limits, value in (
        (("mechanical",), 7.3 * MM),
        (("overhang",), 3 * MM),
        (("overhang", "mechanical"), 3 * MM),
        (("bl_82",), warm.stroke_82.symmetric.value),
        (("bl_70", "mechanical"), min(warm.stroke_70.symmetric.value, 7.3 * MM)),
    ):
        design = warm.design.replace(stroke=StrokeRules(limits=limits))
        usable = read_off(design, warm.field).usable_stroke
        assert usable.value == pytest.approx(value)
        assert usable.limited_by in limits


def test_coercivities_are_in_ampere_per_metre() -> None:
    """N42 without a suffix: HcJ of at least 12 kOe, 955 kA/m; Y30: 180 to 220 kA/m."""
    oersted = 1e3 / (4 * math.pi)
    assert magnet_named("N42").intrinsic_coercivity == pytest.approx(12e3 * oersted, rel=1e-3)
    assert 180e3 <= (magnet_named("Y30").intrinsic_coercivity or 0) <= 220e3


def test_range_of_use_is_in_kelvin() -> None:
    """N42 without a suffix is for use up to 80 degC."""
    grade = magnet_named("N42")
    assert grade.range_note(273.15 + 79) == ""
    assert "80 degC" in grade.range_note(273.15 + 81)
    assert grade.range_note(273.15 - 39) == ""
    assert "-40" in grade.range_note(273.15 - 41)


# design files


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


# files


def columns(path: Path) -> dict[str, Floats]:
    """Return the columns of a CSV file by name."""
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


@pytest.mark.parametrize("kind", KINDS)
def test_columns_hold_what_their_names_say(solved: Solved, kind: str, tmp_path: Path) -> None:
    result = solved(kind)
    save(result, tmp_path, pictures=False)
    gap = columns(tmp_path / "gap_profile.csv")
    z = gap["z_mm"] * MM
    geometry = result.design.geometry.gap
    middle = np.abs(result.field.flux_density(geometry.mean_radius, z)[:, 0])
    off = np.abs(gap["b_r_at_middle_T"] - middle) / middle.max()
    assert np.median(off) < 2e-3
    assert off.max() < 0.03
    spread = gap["b_r_at_coil_uncertainty_T"]
    assert (spread > 0).all()
    assert np.median(spread) < 0.02 * gap["b_r_at_coil_T"].max()
    inside = np.abs(z) < geometry.depth / 2
    assert (gap["b_r_at_coil_T"][inside] > 0.2).all()
    assert (gap["b_r_at_middle_T"][inside] > 0.2).all()
    bl = columns(tmp_path / "bl_curve.csv")
    np.testing.assert_allclose(bl["bl_Tm"], result.bl_curve(bl["x_mm"] * MM), rtol=1e-6)
    assert (np.diff(bl["x_mm"]) > 0).all()


@pytest.mark.parametrize("kind", KINDS)
def test_components_in_the_field_file_are_radial_then_axial(
    solved: Solved, kind: str, tmp_path: Path
) -> None:
    """The magnet points along z; the flux in the gap along r; psi rises where B_z does."""
    result = solved(kind)
    save(result, tmp_path, pictures=False)
    grid = meshio.read(tmp_path / "field.vtu")
    b = grid.cell_data["flux_density_T"][0]
    names = result.summary()["regions"]
    magnet = grid.cell_data["region"][0] == names.index("magnet")
    assert np.median(b[magnet, 1]) > 0.1
    assert abs(np.median(b[magnet, 0])) < 0.05
    middle = grid.points[grid.cells[0].data[:, :3]].mean(axis=1)
    gap = result.design.geometry.gap
    in_gap = (np.abs(middle[:, 1]) < 0.4 * gap.depth) & (middle[:, 0] > gap.inner_radius)
    in_gap &= middle[:, 0] < gap.outer_radius
    sign = 1.0 if kind == "inside-magnet" else -1.0
    assert np.median(sign * b[in_gap, 0]) > 0.2
    assert abs(np.median(b[in_gap, 1])) < 0.1 * abs(np.median(b[in_gap, 0]))
    assert (b[:, 2] == 0).all()


# the steel's load, sampled on a grid of its own


@pytest.mark.parametrize("kind", KINDS)
def test_steel_loads_are_those_of_a_plain_grid(solved: Solved, kind: str) -> None:
    """Mean by volume, and the value that a thousandth of the volume exceeds."""
    result = solved(kind)
    for load in result.steel_loads:
        shape = polygon(result.field.region(load.region))
        r0, z0, r1, z1 = shape.bounds
        step = 0.1 * MM
        r, z = np.meshgrid(np.arange(r0 + step / 2, r1, step), np.arange(z0 + step / 2, z1, step))
        inside = shapely.contains_xy(shape, r, z)
        r, z = r[inside], z[inside]
        size = np.hypot(*result.field.flux_density(r, z).T)
        assert load.mean == pytest.approx(float((r * size).sum() / r.sum()), rel=2e-3)
        share = float(r[size > load.peak].sum() / r.sum())
        assert 0.3e-3 < share < 3e-3
        assert load.mean < load.peak


# the coil in its own field


def test_coil_below_a_free_magnet_is_pushed_the_other_way() -> None:
    """Mirror symmetry: the same current pushes outwards at the upper face, inwards at the lower.

    Positive current is the one that pushes outwards at rest, here at the upper face.
    """
    body = Region("magnet", Role.MAGNET, box(0, 15, -7.5, 7.5), magnetisation=AXIAL_UP)
    gap = Gap(16 * MM, 18 * MM, -10 * MM, 10 * MM)
    field = solve_field([body], gap, {}, {"magnet": MagnetState((0.0, 1.2), 1.05)})
    one = coil(inner_diameter=33 * MM, winding_height=6 * MM, rest_position=7.5 * MM)
    upper, lower = (loaded_coil(field, one, x, 2.0) for x in (0.0, -15 * MM))
    assert upper.force.value > 0
    assert lower.force_factor.value == pytest.approx(-upper.force_factor.value, rel=5e-3)
    assert lower.reluctance_force.value == pytest.approx(0.0, abs=1e-3 * upper.force.value)


# Bl(x) beyond what a single coil shows


def uniform_gap(depth: float, coarse_shift: float = 0.0) -> FluxProfile:
    """Return psi of B_r = 1.2 T over a gap's depth at 16 mm radius, the coarse one shifted."""
    z = np.linspace(-40 * MM, 40 * MM, 16_001)
    fine, coarse = (
        -16 * MM * 1.2 * np.clip(z - shift, -depth / 2, depth / 2) for shift in (0.0, coarse_shift)
    )
    return FluxProfile(z, fine, coarse, ErrorModel())


def test_outward_flux_gives_a_positive_force_factor() -> None:
    """2 pi r N B for a winding wholly in the gap: 2 pi 16 mm 60 1.2 T = 7.238 T m."""
    factor = uniform_gap(10 * MM).force_factor(0.0, 4 * MM, 60)
    assert float(factor) == pytest.approx(7.238, rel=1e-3)


def test_best_rest_position_stays_where_the_coil_can_go() -> None:
    """Contact 2 mm inwards of rest: the best place is further out, its stroke ends at contact.

    Bl is flat to 3 mm and falls to 82 % at 4.08 mm off the gap's middle.  From rest + s the
    coil has 2 + s mm inwards and 4.08 - s mm outwards: equal at s = 1.04 mm, 3.04 mm each.
    """
    curve = bl_curve(uniform_gap(6 * MM), 12 * MM, 60, 0.0, 2 * MM, 8 * MM)
    best, stroke = curve.best_rest_position(0.82)
    assert best == pytest.approx(1.04 * MM, abs=0.02 * MM)
    assert stroke == pytest.approx(3.04 * MM, abs=0.02 * MM)


def test_place_of_the_peak_is_as_uncertain_as_the_meshes_differ() -> None:
    z = np.linspace(-40 * MM, 40 * MM, 4001)
    fine, coarse = (-np.tanh((z - shift) / (3 * MM)) * MM for shift in (0.0, 0.2 * MM))
    profile = FluxProfile(z, fine, coarse, ErrorModel())
    place = bl_curve(profile, 10 * MM, 60, 0.0, 12 * MM, 12 * MM).peak_position
    assert place.value == pytest.approx(0.0, abs=1e-3 * MM)
    assert place.uncertainty == pytest.approx(0.2 * MM, rel=1e-2)


# two nested meshes


@pytest.mark.parametrize("kind", KINDS)
def test_a_quadratic_potential_survives_prolongation(solved: Solved, kind: str) -> None:
    """Second-order elements hold any quadratic exactly, on either mesh."""
    field = solved(kind).field

    def quadratic(r: Floats, z: Floats) -> Floats:
        result: Floats = r * (3.0 + 7.0 * r - 5.0 * z)
        return result

    coarse, fine = field.coarse.system, field.fine.system
    given = quadratic(*coarse.basis.doflocs)
    expected = quadratic(*fine.basis.doflocs)[fine.free]
    (found,) = prolong(field.coarse, fine, given)
    np.testing.assert_allclose(found, expected, atol=1e-12 * np.abs(expected).max())


@pytest.fixture(scope="module")
def small() -> Callable[..., Field]:
    """Return what solves a small motor of one steel; its goal is the flux through the gap."""

    def solved_field(curve: BHCurve, **options: Any) -> Field:
        return solve_field(
            (
                Region("pole", Role.STEEL, box(0, 10, -14, 2.5)),
                Region("magnet", Role.MAGNET, box(14, 30, -14, -2.5), magnetisation=AXIAL_UP),
                Region("plate", Role.STEEL, box(11.5, 30, -2.5, 2.5)),
                Region("back", Role.STEEL, box(0, 30, -19, -14)),
            ),
            Gap(10 * MM, 11.5 * MM, -2.5 * MM, 2.5 * MM),
            dict.fromkeys(("pole", "plate", "back"), curve),
            {"magnet": MagnetState((0.0, 0.4), 1.07)},
            **options,
        )

    return solved_field


def goal_of(field: Field) -> tuple[float, float]:
    """Return the field's goal on the fine and on the coarse mesh."""
    fine, coarse = (
        float(field.goal(level) @ level.solution.reduced) for level in (field.fine, field.coarse)
    )
    return fine, coarse


def test_shares_of_the_error_add_up_to_the_change(small: Callable[..., Field]) -> None:
    """Exactly so in linear steel, where the fine solution's error is orthogonal to the coarse."""
    field = small(LinearSteel("linear", 0.0, "", 500.0).curve())
    fine, coarse = goal_of(field)
    assert field.error_shares.sum() == pytest.approx(fine - coarse, rel=1e-2)


def test_sizes_of_the_shares_are_those_of_two_errors(small: Callable[..., Field]) -> None:
    """A product of two errors: their sizes add up to no more than some changes of the goal."""
    field = small(LinearSteel("linear", 0.0, "", 500.0).curve())
    fine, coarse = goal_of(field)
    sizes = np.abs(field.error_shares).sum()
    assert sizes < 5 * abs(fine - coarse)


def test_tangent_of_saturated_steel_is_the_slope_of_its_force(small: Callable[..., Field]) -> None:
    """Difference quotient of the steel's force in one direction, along another."""
    level = small(steel_named("low-carbon-a").curve()).fine
    system = level.system
    rng = np.random.default_rng(3)
    at = level.solution.reduced
    x, y = (at * rng.uniform(0.5, 1.5, at.shape) for _ in range(2))
    step = 1e-7
    ahead, behind = (system.steel_force_and_tangent(at + k * x)[0] for k in (step, -step))
    quotient = (ahead - behind) / (2 * step)
    shares = system.tangent_shares(*(system.expand(v) for v in (at, x, y)))
    steel = np.concatenate([system.mesh.triangles_of(n) for n in ("pole", "plate", "back")])
    assert shares[steel].sum() == pytest.approx(float(y @ quotient), rel=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_default_mesh_is_as_good_as_promised(solved: Solved, kind: str) -> None:
    result = solved(kind)
    at_rest = result.bl_curve.at_rest
    assert at_rest.uncertainty < 1e-3 * at_rest.value
    assert result.field.fine.solution.iterations <= 6
    assert result.field.coarse.solution.iterations <= 13


@pytest.mark.parametrize("kind", KINDS)
def test_mesh_is_judged_by_the_force_factor_at_rest(solved: Solved, kind: str) -> None:
    result = solved(kind)
    fine, _ = goal_of(result.field)
    assert abs(fine) == pytest.approx(result.bl_curve.at_rest.value, rel=1e-5)


@pytest.mark.parametrize("kind", KINDS)
def test_no_flux_passes_through_the_axis(solved: Solved, kind: str) -> None:
    """A disc of no radius holds none: A is 0 there, not merely small."""
    level = solved(kind).field.fine
    on_axis = level.system.basis.doflocs[0] == 0.0
    assert on_axis.sum() > 20
    assert np.abs(level.potential[on_axis]).max() == 0.0


def test_accuracy_asked_for_is_reached_with_few_unknowns() -> None:
    """Refined where the error is: a tenth of the default's uncertainty, for few unknowns."""
    result = solve(starter("outside-magnet"), accuracy=5e-5)
    at_rest = result.bl_curve.at_rest
    assert at_rest.uncertainty <= 5e-5 * at_rest.value
    assert result.field.unknowns < 40_000


def test_stated_uncertainty_covers_the_true_error() -> None:
    """Against much finer meshes; meant to hold for 95 % of all motors."""
    found = [s for design in random_designs(7, 6) for s in samples(design)]
    assert len(found) > 100
    assert np.mean([s.error <= s.stated for s in found]) > 0.9


def test_open_boundary_is_as_harmless_as_stated(small: Callable[..., Field]) -> None:
    """Twice as far away it changes the gap's flux by no more than the share stated."""
    curve = steel_named("low-carbon-a").curve()
    sizing = Sizing(at_gap=0.15, away=0.1, growth=0.25, largest=0.06, layers=4)
    near, far = (goal_of(small(curve, sizing=sizing, outer_ratio=k))[0] for k in (5.0, 10.0))
    assert abs(near / far - 1) < BOUNDARY


def test_copper_is_not_a_place_to_grade_the_mesh_at() -> None:
    """Only corners of steel and magnets are singular."""
    design = drawn()
    part = partition(design.regions, design.geometry.gap)
    corners = {(round(r / MM, 6), round(z / MM, 6)) for r, z in part.corners}
    assert (17.1, 3.0) in corners
    assert not {(22.0, 16.0), (16.2, 16.0), (16.2, 15.0), (20.0, 15.0)} & corners
