"""Derivatives of figures: against closed chains, identities, re-solved neighbours, and refusals."""

from __future__ import annotations

import csv
import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

import motor
from geometries import Role
from motor.field.motion import Mover
from motor.field.newton import Solver
from motor.field.weak_form import Discretisation
from motor.materials import steel_named
from motor.report.files.derivatives import save_derivatives
from motor.report.tables.derivatives import derivatives_table
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult, read_off
from motor.study.derivatives import Derivatives
from motor.study.differencing import LOST, sloped
from motor.study.neighbours import read_off_like
from motor.study.parameters import Draft, known_parameters
from tests.unit.cli.running import DESIGN, ran


@pytest.fixture(scope="module")
def found(result: MotorResult) -> Derivatives:
    return motor.derivatives(result)


def test_figures_are_those_of_the_summary(result: MotorResult) -> None:
    summary = result.summary()
    for key, figure in sloped().items():
        value = figure(result)
        if value is None or not math.isfinite(value):
            assert summary[key] is None, key
        else:
            assert value == pytest.approx(summary[key], rel=1e-12), key


def test_lengths_scaled_together_scale_bl(result: MotorResult, found: Derivatives) -> None:
    """Bl of a motor twice as large, turns kept, is twice as large: sum of p dBl/dp = Bl."""
    design = result.design
    lengths = [n for n, p in known_parameters(design).items() if p.kind == "length"]
    lengths = [
        n for n in lengths if not n.startswith(("moving_parts", "heat")) and Draft(design).get(n)
    ]
    assert not set(lengths) & set(found.refused)
    total = sum(
        1e3 * Draft(design).get(n) * found.of("bl_at_rest_Tm", n).derivative for n in lengths
    )
    assert total == pytest.approx(result.bl_curve.at_rest.value, rel=2e-3)


def test_remanence(result: MotorResult, found: Derivatives) -> None:
    slope = found.of("bl_at_rest_Tm", "factors.remanence").derivative
    assert 0 < slope / result.bl_curve.at_rest.value < 1


def test_closed_chains(result: MotorResult, found: Derivatives) -> None:
    design, density = result.design, steel_named(str(result.design.materials.steel)).density
    per_kelvin = found.of("coil_resistance_ohm", "temperature")
    warmer = design.coil.resistance(design.temperature + 1) - design.coil.resistance(
        design.temperature
    )
    assert per_kelvin.derivative == pytest.approx(warmer, rel=1e-6)
    assert (per_kelvin.uncertainty, per_kelvin.unit) == (0.0, "ohm/K")
    steel = f"materials.prices.{design.materials.steel}"
    mass = found.of("motor_cost", steel).derivative
    assert mass == pytest.approx(result.mass_of() - result.mass_of(Role.MAGNET), rel=1e-9)
    floor = found.of("steel_mass_g", "geometry.floor_thickness")
    outer = getattr(design.geometry, "cup_outer_diameter") / 2  # noqa: B009
    assert floor.derivative == pytest.approx(density * math.pi * outer**2, rel=1e-6)
    assert floor.unit == "g/mm"


def test_against_neighbours_solved_finely(result: MotorResult, found: Derivatives) -> None:
    """Both within the stated uncertainty, and that within a twentieth of the derivative."""
    for name in ("geometry.magnet_thickness", "geometry.pole_plate_diameter"):
        value, step = Draft(result.design).get(name), 0.006
        sides = [
            motor.solve(Draft(result.design, {name: value * s}).design(), accuracy=3e-5)
            for s in (1 - step, 1 + step)
        ]
        for figure in ("bl_at_rest_Tm", "gap_flux_mWb"):
            low, high = (sloped()[figure](side) for side in sides)
            assert low is not None
            assert high is not None
            row = found.of(figure, name)
            assert row.derivative == pytest.approx(
                (high - low) / (2e3 * step * value), abs=row.uncertainty
            )
            assert row.uncertainty < 0.05 * abs(row.derivative)


def test_the_curve_moves_as_its_value_at_rest(found: Derivatives) -> None:
    for name in ("geometry.cup_inner_diameter", "coil.winding_height", "factors.remanence"):
        at_rest = np.interp(0.0, found.x, found.bl[name][0])
        assert at_rest == pytest.approx(found.of("bl_at_rest_Tm", name).derivative, rel=1e-3)


def test_the_gap_profile_moves_as_its_mean(result: MotorResult, found: Derivatives) -> None:
    """Where coil and depth stay, the mean over the depth of B_r's change is the mean B_r's."""
    gap, z = result.design.geometry.gap, found.z
    inside = np.linspace(gap.bottom, gap.top, 400)
    for name in ("factors.remanence", "geometry.magnet_thickness", "geometry.cup_inner_diameter"):
        slope, spread = found.gap[name]
        mean = CubicSpline(z, slope)(inside).mean()
        whole = found.of("mean_gap_flux_density_T", name)
        assert mean == pytest.approx(whole.derivative, rel=2e-2, abs=2 * whole.uncertainty), name
        assert (spread > 0).all()
    assert found.gap["coil.winding_height"][0] == pytest.approx(0.0, abs=1e-12)
    assert (found.gap["factors.remanence"][0][np.abs(z) < gap.depth / 2] > 0).all()


def test_the_record_holds_the_curves_beside_the_rows(found: Derivatives) -> None:
    curves = found.summary()["curves"]
    for key, along, places, slopes in (
        ("bl_Tm", "x_mm", found.x, found.bl),
        ("b_radial_T", "z_mm", found.z, found.gap),
    ):
        mine = curves[key]["derivatives"]["geometry.magnet_thickness"]
        read = [mine["derivative"], mine["uncertainty"]]
        assert mine["per"] == "mm"
        assert curves[key][along] == pytest.approx(1e3 * places, rel=1e-7, abs=1e-9)
        assert np.array(read) == pytest.approx(slopes["geometry.magnet_thickness"], rel=1e-7)
        moved = {name for name, (line, _) in slopes.items() if line.any()}
        assert moved == set(curves[key]["derivatives"]) != set(slopes)


def test_files_hold_the_curves_too(found: Derivatives, tmp_path: Path) -> None:
    written = {path.name for path in save_derivatives(found, tmp_path / "out")}
    assert {"derivatives.csv", "derivatives.json", "derivatives.png"} <= written
    for stem, curve in (("bl_curve", found.bl), ("gap_profile", found.gap)):
        with (tmp_path / "out" / f"{stem}_derivatives.csv").open(encoding="utf-8") as stream:
            rows = list(csv.reader(stream))
        head, mine = rows[0], [row for row in rows if row[0] == "geometry.magnet_thickness"]
        assert head[:2] == ["parameter", "per"]
        assert {row[1] for row in mine} == {"mm"}
        read = np.array([[float(row[3]), float(row[4])] for row in mine]).T
        assert read == pytest.approx(curve["geometry.magnet_thickness"], rel=1e-6)


def test_equal_dimensions_that_cannot_change_alone_change_together() -> None:
    found = motor.derivatives(motor.solve(motor.starter("outside-magnet")))
    plate = ["geometry.gap_depth", "geometry.top_plate_thickness"]
    assert set(plate) <= set(found.refused)
    assert found.of("steel_mass_g", " + ".join(plate)).derivative > 0
    told = next(line for line in found.missing() if line.startswith(f"no derivative by {plate[0]}"))
    assert f"alone, but together with {plate[1]}: " in told


def test_unknown_parameters_are_refused_with_near_names(result: MotorResult) -> None:
    with pytest.raises(motor.InvalidInput, match="cup_rise"):
        motor.derivatives(result, ["geometry.cup_rize"])


def test_corners_that_would_part_are_refused() -> None:
    design = motor.starter("outside-magnet")
    geometry = dataclasses.replace(
        design.geometry,
        top_plate_outer_diameter=getattr(design.geometry, "magnet_outer_diameter"),  # noqa: B009
    )
    result = motor.solve(design.replace(geometry=geometry), uncertainty=False)
    name = "geometry.top_plate_outer_diameter"
    found = motor.derivatives(result, [name, "geometry.gap_width"])
    assert "would part" in found.refused[name]
    assert {row.parameter for row in found.rows} == {"geometry.gap_width"}
    assert all(math.isnan(r.uncertainty) for r in found.rows if r.figure in sloped("field"))
    with pytest.raises(KeyError):
        found.of("bl_at_rest_Tm", name)


def test_moved_equations_are_those_of_the_moved_mesh(result: MotorResult) -> None:
    design, level = result.design, result.field.coarse
    thicker = Draft(
        design, {"geometry.magnet_thickness": 1e-5 + Draft(design).get("geometry.magnet_thickness")}
    ).design()
    shift = Mover(level.system.mesh, design.regions).shifts(design.regions, thicker.regions)
    mesh = level.system.mesh.moved(shift, thicker.regions, thicker.geometry.gap)
    again = dataclasses.replace(
        mesh, mesh=type(mesh.mesh)(np.array(mesh.mesh.p), np.array(mesh.mesh.t))
    )
    materials = field_materials(thicker)
    moved, built = level.system.moved(mesh, *materials), Discretisation(again, *materials)
    assert np.abs(moved.linear - built.linear).max() <= 1e-12 * np.abs(built.linear).max()
    a = level.solution.reduced
    difference = Solver(moved).residual(a) - Solver(built).residual(a)
    assert np.abs(difference).max() <= 1e-12 * np.abs(built.load).max()
    assert np.abs(shift).max() > 5e-6


def test_a_kink_has_a_derivative_to_either_side(result: MotorResult) -> None:
    """A coil at the place where both sides' strokes are equal: each rules one way."""

    def at(x: float) -> MotorResult:
        coil = dataclasses.replace(result.design.coil, rest_position=x)
        return read_off(result.design.replace(coil=coil), result.field)

    def lead(x: float) -> float:
        stroke = read_off_like(at(x), result.field.fine).stroke_82
        return stroke.inward.value - stroke.outward.value

    stroke, name = "stroke_82_mm", "coil.rest_position"
    balanced = at(float(brentq(lead, -1e-3, 1e-3, xtol=1e-12)))
    found = motor.derivatives(balanced, [name, "geometry.magnet_thickness"])
    kinks = {k.parameter: k for k in found.kinks if k.figure == stroke}
    for parameter, kink in kinks.items():
        ways = [found.of(f"stroke_82_{side}_mm", parameter) for side in ("inward", "outward")]
        slopes = sorted((way.derivative for way in ways), reverse=True)  # the least of two rules
        assert [kink.below, kink.above] == pytest.approx(slopes, rel=0.02)
        assert 0 < kink.uncertainty <= 2 * max(way.uncertainty for way in ways)
        with pytest.raises(KeyError):
            found.of(stroke, parameter)
    assert kinks[name].below == pytest.approx(1, abs=0.01)
    assert kinks[name].above == pytest.approx(-1, abs=0.01)
    assert "geometry.magnet_thickness" in kinks
    assert {k["figure"] for k in found.summary()["kinks"]} >= {stroke}
    table = derivatives_table(found)
    cells = next(list(c.cells) for c in table.columns if "stroke" in str(c.header))
    assert any(" or -" in str(cell) for cell in cells)


def test_smooth_motors_have_no_kinks(found: Derivatives) -> None:
    assert found.kinks == ()


def test_the_command_prints_one_record() -> None:
    done = ran("derivatives", DESIGN, "--json")
    assert done.exit_code == 0
    record = json.loads(done.stdout)
    keys = {"figure", "parameter", "derivative", "uncertainty", "unit"}
    assert {frozenset(row) for row in record["rows"]} == {frozenset(keys)}
    gap = [r for r in record["rows"] if r["parameter"] == "geometry.gap_width"]
    bl = next(r for r in gap if r["figure"] == "bl_at_rest_Tm")
    assert bl["unit"] == "T m/mm"
    assert bl["derivative"] < 0 < bl["uncertainty"]


def test_magnets_slope_and_coercivity(result: MotorResult, found: Derivatives) -> None:
    """Against motors solved with them; coercivity moves nothing but the margin to the knee."""
    name = "factors.recoil_permeability"
    ends = [motor.solve(Draft(result.design, {name: 1 + s}).design()) for s in (-0.01, 0.01)]
    low, high = (end.bl_curve.at_rest.value for end in ends)
    row = found.of("bl_at_rest_Tm", name)
    assert row.derivative < 0
    assert row.derivative == pytest.approx((high - low) / 0.02, rel=0.02)
    rows = {r.figure: r for r in found.rows if r.parameter == "factors.coercivity"}
    assert rows["demagnetisation_margin_kA_per_m"].derivative > 0
    assert abs(rows["bl_at_rest_Tm"].derivative) < 1e-6 * result.bl_curve.at_rest.value


def test_what_magnets_have_lost_is_a_doubt_of_each_derivative() -> None:
    """It is held while a dimension changes; what it takes from Bl says how much that may matter."""
    design = motor.starter("inside-magnet").replace(temperature=403.15)
    hot = motor.solve(design)
    assert hot.field.before_loss is not None
    name = "geometry.magnet_thickness"
    found = motor.derivatives(hot, [name]).of("bl_at_rest_Tm", name)
    whole = float(
        hot.field.goal(hot.field.before_loss.fine) @ hot.field.before_loss.fine.solution.reduced
    )
    lost = abs(abs(whole) - hot.bl_curve.at_rest.value) / (1e3 * Draft(design).get(name))
    assert found.uncertainty > LOST * lost * 0.99
    with pytest.raises(KeyError):
        motor.derivatives(hot, ["temperature"]).of("bl_at_rest_Tm", "temperature")
