"""What a requirement costs at an answer: against motors that meet it 1 % less."""

from __future__ import annotations

import dataclasses

import pytest

import motor
from motor.study.evaluate import job_of, solve_jobs
from motor.study.multipliers import Multiplier, Multipliers, multipliers
from motor.study.problem import Problem, Trial
from motor.study.slopes import PIECES, has_derivative
from motor.study.target import Target

NAME = "geometry.magnet_outer_diameter"
RANGE = (25e-3, 31e-3)


def trial(problem: Problem, place: float) -> Trial:
    """Return the trial at a diameter in metres."""
    design = problem.plan.build({NAME: place})
    found = solve_jobs([job_of(design)])[0].results
    assert found is not None
    asked = tuple(problem.target.requirements(found))
    return Trial({NAME: place}, design, found, asked, problem.target.objective(found))


@pytest.fixture(scope="module")
def design() -> motor.Design:
    return motor.starter("inside-magnet")


@pytest.fixture(scope="module")
def binding(design: motor.Design) -> tuple[Problem, Trial]:
    """Return a problem whose only requirement is just met, and the trial that meets it."""
    here = trial(Problem(design, Target(bl_least=0.1), {NAME: RANGE}), 28e-3)
    assert here.results is not None
    least = here.results["bl_at_rest_Tm"] * (1 - 1e-6)
    problem = Problem(design, Target(bl_least=least), {NAME: RANGE})
    return problem, dataclasses.replace(
        here, requirements=tuple(problem.target.requirements(here.results))
    )


def test_one_per_cent_less_saves_what_a_smaller_magnet_saves(
    binding: tuple[Problem, Trial],
) -> None:
    problem, best = binding
    found = multipliers(problem, best)
    assert found is not None
    (row,) = found.rows
    assert found.unexplained < 1e-9
    assert best.results is not None
    smaller = trial(problem, 27.6e-3)
    assert smaller.results is not None
    less = 1 - smaller.results["bl_at_rest_Tm"] / best.results["bl_at_rest_Tm"]
    saved = (best.objective - smaller.objective) / (100 * less)
    assert row.saved == pytest.approx(saved, rel=0.05)
    (words,) = found.sentences()
    assert words == f"1 % less Bl at rest would save {1e3 * row.saved:.3g} g"


def test_what_does_not_bind_costs_nothing(design: motor.Design) -> None:
    problem = Problem(design, Target(bl_least=0.1), {NAME: RANGE})
    found = multipliers(problem, trial(problem, 28e-3))
    assert found == Multipliers((), 1.0, {"mass": 1.0})
    at_end = multipliers(problem, trial(problem, RANGE[0]))
    assert at_end is not None
    assert at_end.rows == ()
    assert at_end.unexplained < 1e-9


def test_out_of_reach_they_say_what_lessens_the_largest_miss(design: motor.Design) -> None:
    """Bl is 10 % too low and the motor 10 % too heavy: between them the miss is shared."""
    low, here, high = (
        trial(Problem(design, Target(bl_least=0.1), {NAME: RANGE}), place)
        for place in (27.8e-3, 28e-3, 28.2e-3)
    )
    assert low.results
    assert here.results
    assert high.results
    slopes = [
        (high.results[key] - low.results[key]) / here.results[key] * share
        for key, share in (("bl_at_rest_Tm", 0.9), ("motor_mass_g", 1.1))
    ]
    target = Target(
        bl_least=here.results["bl_at_rest_Tm"] / 0.9,
        further={"motor_mass_most": here.results["motor_mass_g"] / 1.1e3},
    )
    problem = Problem(design, target, {NAME: RANGE})
    asked = tuple(target.requirements(here.results))
    found = multipliers(problem, dataclasses.replace(here, requirements=asked))
    assert found is not None
    assert found.missed
    assert found.unexplained < 1e-6
    saved = {row.name: row.saved for row in found.rows}
    assert sum(saved.values()) == pytest.approx(0.01, rel=1e-6)
    assert saved["Bl at rest"] == pytest.approx(0.01 * slopes[1] / sum(slopes), rel=0.02)
    assert found.sentences()[0].endswith("points of per cent off the largest miss")


def test_words_say_what_is_saved_and_how_sure() -> None:
    row = Multiplier("height", False, 0.02)
    assert Multipliers((row,), 0.0, {"cost": 2.0}).sentences() == [
        "1 % more height would save 0.01 of the cost"
    ]
    rough = Multipliers((row,), 0.4, {"cost": 1.0, "mass": 1.0}).sentences()
    assert "weighted sum" in rough[0]
    assert "40 %" in rough[1]


def test_figures_that_are_the_largest_of_several_have_multipliers_too() -> None:
    """Each piece of them has a derivative; without it a flat Bl(x) was never said to cost."""
    assert all(has_derivative(piece) for some in PIECES.values() for piece in some)
