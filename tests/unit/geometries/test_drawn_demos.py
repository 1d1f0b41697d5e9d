"""The demo designs that are drawn as outlines: solved, flux conserved, changed by studies."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import motor
from geometries import Outlines
from motor.results.motor_result import MotorResult, solve
from motor.study.parameters import Draft
from motor.study.study_file import read_study

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
DEMOS = ("midrange_conical_pole", "tweeter_radial_ring", "shelf_bass_shielded")


@pytest.fixture(scope="module", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> MotorResult:
    return solve(motor.read_design(DESIGNS / f"{request.param}.toml"))


def test_demo_is_solved_within_its_uncertainty(demo: MotorResult) -> None:
    assert isinstance(demo.design.geometry, Outlines)
    bl = demo.bl_curve.at_rest
    assert 1.0 < bl.value < 20.0
    assert bl.uncertainty < 2e-3 * bl.value
    assert demo.usable_stroke.value > 1e-3


def test_no_flux_comes_out_of_a_box_around_the_motor(demo: MotorResult) -> None:
    points = np.array([p for r in demo.design.regions for p in r.outline])
    edge = 1.2 * points[:, 0].max()
    low, high = points[:, 1].min() - 0.2 * edge, points[:, 1].max() + 0.2 * edge
    share, weight = np.polynomial.legendre.leggauss(200)
    r, z = edge * (share + 1) / 2, low + (high - low) * (share + 1) / 2
    level = demo.field

    def through_disc(height: float) -> float:
        b = level.flux_density(r, np.full_like(r, height))[:, 1]
        return float(math.pi * edge * (weight * r * b).sum())

    side = level.flux_density(np.full_like(z, edge), z)[:, 0]
    out = math.pi * edge * (high - low) * float((weight * side).sum())
    lost = through_disc(high) - through_disc(low) + out
    assert abs(lost) < 1e-3 * demo.flux_budget.magnet.value


def test_study_sweeps_dimensions_of_a_drawing(tmp_path: Path) -> None:
    design = DESIGNS / "tweeter_radial_ring.toml"
    path = tmp_path / "study.toml"
    path.write_text(
        f'design = "{design}"\n'
        "[ties]\n"
        '"geometry.magnet_wall" = "geometry.cup_wall"\n'
        "[[sweep]]\n"
        '"geometry.cup_wall" = { from = "3 mm", to = "5 mm", steps = 3 }\n'
    )
    plan = read_study(path).plan
    assert plan is not None
    designs = [point.design for point in plan.points() if point.design is not None]
    rims = [max(p[0] for r in d.regions for p in r.outline) for d in designs]
    assert rims == pytest.approx([19.5e-3, 21.5e-3, 23.5e-3])


def test_opposing_magnet_and_can_take_the_stray_field_off() -> None:
    design = motor.read_design(DESIGNS / "shelf_bass_shielded.toml")
    geometry = design.geometry
    assert isinstance(geometry, Outlines)
    open_ = Outlines(
        dimensions=geometry.dimensions,
        formulas=geometry.formulas,
        gap_formulas=geometry.gap_formulas,
        parts=geometry.parts[:3],
    )
    shielded, bare = (
        solve(design.replace(geometry=g), uncertainty=False) for g in (geometry, open_)
    )
    assert shielded.stray_field(0.1).value < 0.25 * bare.stray_field(0.1).value
    assert shielded.bl_curve.at_rest.value > bare.bl_curve.at_rest.value


def test_rings_have_dotted_names() -> None:
    design = motor.read_design(DESIGNS / "home_bass_long_stroke.toml")
    name = "geometry.rings.copper_sleeve"
    changes = {f"{name}.height": 20e-3, f"{name}.material": "aluminium"}
    before = Draft(design)
    changed = before.having(changes).design()
    ring = next(r for r in changed.geometry.rings if r.name == "copper_sleeve")  # type: ignore[attr-defined]
    assert (ring.height, ring.material) == (20e-3, "aluminium")
    assert before.get(f"{name}.height") != ring.height
    others = [r for r in design.regions if r.name != "copper_sleeve"]
    assert [r for r in changed.regions if r.name != "copper_sleeve"] == others
