"""The ready studies on small grids: what is kept equal is equal, what is marked is the best."""

from __future__ import annotations

import contextlib
import dataclasses

import pytest

from geometries import polygon
from motor.base.errors import InvalidInput
from motor.study.contours import machining
from motor.study.plan import hypercube
from motor.study.problem import Answer, Trial
from motor.study.processes import Here
from motor.study.running import run
from motor.study.study_table import study_table
from studies import ferrite_against_neodymium as materials
from studies import flat_force_factor as flat
from studies import inside_against_outside as position
from studies import production_tolerances as production
from studies import winding_against_gap as winding


def test_winding_against_gap_marks_the_longest_stroke_that_meets_the_target(tmp_path):
    plan = winding.plan((8e-3, 22e-3, 8), (4e-3, 6e-3, 2))
    done = run(plan, tmp_path / "s.sqlite", engine=Here())
    assert done.points == 16
    table = study_table(tmp_path / "s.sqlite", plan)
    best = winding.best_row(table)
    assert best is not None
    good = [
        row[winding.STROKE]
        for row in table.records()
        if row["motor_constant_N2_per_W"] >= winding.LEAST_MOTOR_CONSTANT
        and row["resonance_Hz"] <= winding.HIGHEST_RESONANCE
    ]
    assert 0 < len(good) < len(table)
    assert table.column(winding.STROKE)[best] == max(good)
    outer = {(round(r["outer_diameter_mm"], 6), round(r["height_mm"], 5)) for r in table.records()}
    assert len(outer) == 1
    figure, front = winding.tradeoff(table, best)
    assert len(figure.axes) == 2
    assert best in front
    assert f"{max(good):.2f} mm one-way" in winding.answer(table, best, front)


@pytest.mark.parametrize("family", list(position.FAMILIES))
def test_inside_against_outside_keeps_resistance_and_resonance(family: str):
    asked = position.problem(family, 34e-3)
    base = asked.base
    assert base.moving_parts is not None
    wanted = base.moving_parts.stiffness_at_rest / base.moving_parts.moving_mass(base.coil)
    built = []
    for row in hypercube(asked.free, 60, seed=3).rows:
        values = {position.COIL: 34e-3, **dict(zip(asked.free, row, strict=True))}
        with contextlib.suppress(InvalidInput):
            built.append(asked.plan.build(values))
    assert len(built) > 3
    for design in built:
        assert design.coil.inner_diameter == 34e-3
        assert design.coil.resistance() == pytest.approx(position.TARGET.resistance, rel=1e-9)
        parts = design.moving_parts
        assert parts is not None
        ratio = parts.stiffness_at_rest / parts.moving_mass(design.coil)
        assert ratio == pytest.approx(wanted, rel=1e-9)


def test_inside_against_outside_says_what_wins_and_what_binds():
    def row(stroke: float, *, met: bool = True) -> dict[str, object]:
        figures = {"winding_height_mm": 20.0, "gap_depth_mm": 4.0, "moving_mass_g": 15.0}
        words = {"usable_stroke_limited_by": "bl_82", "binding": "height", "costs": "dear"}
        return {
            **figures,
            **words,
            "met": met,
            "coil_mm": 20.0,
            "motor_mass_g": 400.0,
            position.STROKE: stroke,
        }

    none, near, far = row(99.0, met=False), row(5.0), row(7.0)
    tables = {"a": [none, near, none, none, none, none], "b": [none, far, near, none, none, none]}
    assert position.best_of(tables["b"]) is far
    assert position.best_of([none]) is None
    text = position.answer(tables, {"b": far | {"motor_mass_g": 300.0}})
    assert "- b: 7.00 mm of stroke (limited by Bl at 82 %)" in text
    assert "for 1 % less stroke 300 g" in text
    assert "A coil of 27 mm goes farthest with b: 7.00 mm" in text
    assert "A coil of 20 mm" not in text
    assert len(position.figure(tables).axes) == 4


def test_flat_force_factor_changes_the_drawn_motor_and_tells_what_flatness_costs(solved):
    drawn = flat.motor.read_design(flat.DESIGN)
    for way, more in ((flat.PLAIN, 0), (flat.SHAPED, 2 * len(flat.CONTOUR.points))):
        asked = flat.problem(way, 1.0)
        assert len(asked.free) == len(flat.FREE) + more
        built = asked.plan.build({})
        assert built.coil.resistance() == pytest.approx(flat.RESISTANCE, rel=1e-9)
        for one, other in zip(built.regions, drawn.regions, strict=True):
            assert polygon(one).symmetric_difference(polygon(other)).area < 1e-12
        assert len(machining(built, asked.contours)) == (4 if more else 0)
    result = solved("outside-magnet")
    stroke = dataclasses.replace(result.design.stroke, band=2e-3)
    moving = {"stroke": stroke, "moving_parts": drawn.moving_parts}
    result = dataclasses.replace(result, design=result.design.replace(**moving))
    missed, met = (Answer(f, Trial({}, None, None, (), 1.0), (), 1) for f in (False, True))
    ends = [
        flat.Found(flat.PLAIN, 2.0, met, result, ("1 % less Bl²/Re would save 9 g",)),
        flat.Found(flat.SHAPED, 1.0, missed, result, ()),
        flat.Found(flat.TURNED, 0.0, met, result, ()),
    ]
    text = flat.answer(result, ends)
    assert "- plain, 2 %: deviation " in text
    assert "- shaped, 1 %, out of reach: deviation " in text
    assert "efficiency 100 %" in text
    assert "  1 % less Bl²/Re would save 9 g." in text
    assert len(flat.figure(result, ends).axes) == 3
    away = flat.aside(result)[flat.AWAY]
    assert away > result.summary()[flat.DEVIATION]


@pytest.mark.parametrize("name", materials.NAMES)
def test_both_motors_start_from_a_design_within_their_ranges(name: str):
    problem = materials.problem(name)
    base = {key: sum(ends) / 2 for key, ends in problem.free.items()}
    design = problem.plan.build(base)
    assert design.coil.resistance() == pytest.approx(materials.TARGET.resistance, rel=1e-9)


@pytest.mark.parametrize("name", list(production.OWN))
def test_tolerances_draw_buildable_motors(name: str):
    plan, scatter = production.plan(name, 4)
    points = list(plan.points())
    assert len(points) == 16
    assert all(point.design is not None for point in points)
    assert {p.name for p in plan.parameters} == set(scatter.parameters)


def test_a_neighbour_that_goes_much_farther_is_a_start_as_well(tmp_path, monkeypatch):
    """Only below CLIFF of its stroke, and only where that helps."""
    first = dict(zip(position.DIAMETERS, (0.0, 4.0, 13.0, 12.0, 12.5, 6.0), strict=True))
    second = {20e-3: 3.0, 27e-3: 12.0, 55e-3: 5.0}
    asked_again = []

    def searched(asked, store, engine, label):
        (diameter,) = asked.choices[position.COIL]
        again = "from" in label
        if again:
            asked_again.append(diameter)
        reach = (second if again else first)[diameter]
        return {"met": reach > 0, "coil_mm": 1e3 * diameter, position.STROKE: reach}, asked.base

    monkeypatch.setattr(position, "_searched", searched)
    rows = position._family("neodymium inside", tmp_path / "s", Here())
    assert asked_again == [55e-3, 27e-3, 20e-3]
    assert [row[position.STROKE] for row in rows] == [3.0, 12.0, 13.0, 12.0, 12.5, 6.0]
