"""Target search against a fine grid; targets that cannot be met; contradictions."""

from __future__ import annotations

import math

import pytest

from motor.base.errors import InvalidInput
from motor.design.design import StrokeRules
from motor.study import descending
from motor.study.plan import Plan, span
from motor.study.problem import Problem
from motor.study.processes import Here
from motor.study.running import read_rows, run
from motor.study.searching import search
from motor.study.target import Target
from tests.unit.study.plans import PLATE, ferrite

HEIGHT = "coil.winding_height"
FREE = {"geometry.gap_depth": (3.5e-3, 8e-3), HEIGHT: (8e-3, 18e-3)}
TARGET = Target(motor_constant_least=8.0, stroke_least=3.4e-3, minimise={"mass": 1.0, "cost": 0.1})
GRID = {"geometry.gap_depth": (3.8e-3, 5.6e-3, 6), HEIGHT: (10.6e-3, 13.0e-3, 7)}
"""The window about the optimum that the grid looks at: it must lie inside."""
SHARP = StrokeRules(limits=("bl_82", "overhang", "mechanical"))
"""Limits with which the optimum is sharp, so that its place can be compared as well."""


def test_search_finds_the_optimum_of_a_fine_grid(tmp_path):
    """By derivatives: from few solves, not above what the grid has best."""
    base = ferrite().replace(stroke=SHARP)
    axes = tuple(span(name, *window) for name, window in GRID.items())
    plan = Plan(base, axes, (PLATE,))
    run(plan, tmp_path / "grid.sqlite", engine=Here())
    solved = [r.results for r in read_rows(tmp_path / "grid.sqlite", plan) if r.results]
    met = [r for r in solved if all(q.slack >= 0 for q in TARGET.requirements(r))]
    assert 0 < len(met) < len(solved)
    best = min(met, key=TARGET.objective)
    on_grid = TARGET.objective(best)
    for name, column in (("geometry.gap_depth", "gap_depth_mm"), (HEIGHT, "winding_height_mm")):
        low, high = (1e3 * end for end in GRID[name][:2])
        assert low < best[column] < high
    problem = Problem(base, TARGET, FREE, (PLATE,))
    store = tmp_path / "search.sqlite"
    answer = search(problem, store, engine=Here())
    assert answer.feasible
    assert min(r.slack for r in answer.best.requirements) >= 0
    assert answer.best.objective <= on_grid
    found = answer.best.results or {}
    for name, column in (("geometry.gap_depth", "gap_depth_mm"), (HEIGHT, "winding_height_mm")):
        assert 1e3 * GRID[name][0] < found[column] < 1e3 * GRID[name][1]
    assert not answer.without
    assert answer.trials < 60
    all_met = TARGET.requirements(answer.best.results or {})
    assert any(q.slack < 0.005 for q in all_met)
    again = search(problem, store, engine=Nothing())
    assert again.best.values == answer.best.values


class Nothing(Here):
    """An engine that must not be asked."""

    def submit(self, number, task):
        raise AssertionError("a design was solved twice")


def test_an_impossible_target_names_what_binds_and_the_nearest_motor(tmp_path):
    target = Target(bl_least=9.0, stroke_least=3.0e-3)
    answer = search(
        Problem(ferrite(), target, {HEIGHT: FREE[HEIGHT]}), tmp_path / "s", engine=Here()
    )
    assert not answer.feasible
    assert answer.best.design is not None
    text = answer.sentence()
    assert text.startswith("No motor within the free ranges meets the target.")
    assert "Bl at rest must be at least 9 T m; reached" in text
    assert "% short" in text
    assert "coil.winding_height is at its upper end, 18 mm" in text


def test_what_has_no_derivatives_is_searched_without_and_says_why(tmp_path):
    free = {HEIGHT: (10e-3, 12e-3)}
    problem = Problem(ferrite(), Target(further={"least_joint_pull_least": 1.0}), free)
    answer = search(problem, tmp_path / "s", engine=Here(), evaluations=2)
    assert "no derivatives" in answer.without
    assert answer.feasible
    gap = {"geometry.gap_depth": (5.5e-3, 6.5e-3)}
    one_way = search(
        Problem(ferrite(), Target(bl_least=1.0), gap), tmp_path / "t", engine=Here(), evaluations=2
    )
    assert one_way.without.startswith("geometry.gap_depth has no derivatives: ")


def test_the_longest_stroke_is_where_two_of_its_limits_meet(tmp_path):
    """A taller winding has more 82 % stroke and less room below: the best has both alike."""
    target = Target(bl_least=4.0, maximise="stroke")
    problem = Problem(ferrite(), target, {HEIGHT: (10e-3, 30e-3)})
    answer = search(problem, tmp_path / "s", engine=Here())
    assert answer.feasible
    found = answer.best.results or {}
    assert answer.best.objective == -found["usable_stroke_mm"]
    assert found["stroke_82_mm"] == pytest.approx(found["mechanical_limit_mm"], rel=0.02)


def test_choices_are_tried_and_the_best_kept(tmp_path):
    target = Target(bl_least=5.0, minimise={"cost": 1.0})
    problem = Problem(
        ferrite(),
        target,
        {"coil.winding_height": (9e-3, 16e-3)},
        choices={"materials.magnet": ["Y25", "Y33"]},
    )
    answer = search(problem, tmp_path / "s", engine=Here(), evaluations=4, derivatives=False)
    assert answer.feasible
    assert answer.without
    assert answer.best.values["materials.magnet"] in ("Y25", "Y33")
    alone = [
        search(
            Problem(
                ferrite(),
                target,
                problem.free,
                choices={"materials.magnet": [grade]},
            ),
            tmp_path / "s",
            engine=Here(),
            evaluations=4,
            derivatives=False,
        ).best.objective
        for grade in ("Y25", "Y33")
    ]
    assert answer.best.objective == min(alone)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"bl_least": 7.0, "bl_most": 6.0}, "bl_least must be at most bl_most, 6 "),
        ({"coldest": 300.0, "hottest": 250.0}, "coldest must be at most hottest"),
        ({"coil_diameter_least": 0.04, "coil_diameter_most": 0.03}, "at most coil_diameter_most"),
        ({"coil_diameter_least": 0.04, "outer_diameter_most": 0.03}, "at most outer_diameter_most"),
        ({"stroke_least": 0.04, "height_most": 0.03}, "must be at most height_most"),
        (
            {"bl_most": 5.0, "resistance": 5.0, "motor_constant_least": 6.0},
            "must be within reach of bl_most and resistance, 5 N",
        ),
        ({"bl_least": -1.0}, "must be greater than 0"),
        ({"resistance": math.nan}, "must be greater than 0"),
        ({"minimise": {"mas": 1.0}}, "did you mean mass"),
        ({"minimise": {"mass": -1.0}}, "must be 0 or more"),
        ({"minimise": {"mass": 0.0}}, "weigh at least one goal"),
        ({"maximise": "strok"}, "name a sized figure .*stroke"),
    ],
)
def test_contradictions_are_refused(values, words: str):
    with pytest.raises(InvalidInput, match=words):
        Target(**values)


@pytest.mark.parametrize(
    ("free", "words"),
    [
        ({}, "name at least one parameter"),
        ({"coil.winding_height": (9e-3, 8e-3)}, "must end above its start; received 9 mm to 8 mm"),
        ({"coil.layers": (1, 4)}, "vary smoothly"),
        ({"coil.winding_heigth": (1e-3, 4e-3)}, "did you mean coil.winding_height"),
    ],
)
def test_bad_free_ranges_are_refused(free, words: str):
    with pytest.raises(InvalidInput, match=words):
        Problem(ferrite(), Target(bl_least=5.0), free)


def test_a_search_from_an_answer_is_no_worse_and_sets_out_from_there_only(tmp_path, monkeypatch):
    """Where no step is taken at all the answer is the start itself."""
    monkeypatch.setattr(descending, "ROUGH_STEPS", 1)
    monkeypatch.setattr(descending, "FINE_STEPS", 1)
    monkeypatch.setattr(descending, "FOLLOWED", 0)
    problem = Problem(ferrite(), Target(bl_least=1.0), FREE, (PLATE,))
    start = {"geometry.gap_depth": 5e-3, HEIGHT: 12e-3}
    answer = search(problem, tmp_path / "s.sqlite", engine=Here(), starts=[start])
    assert answer.feasible
    assert answer.best.values == pytest.approx(start)
    assert answer.trials == 2
