"""Turns as a real number: beside whole turns, and where there are none."""

from __future__ import annotations

import dataclasses
import functools

import pytest

from motor.design.coil import Coil
from motor.study.problem import Problem
from motor.study.relaxed import NoDescentError, relaxed
from motor.study.rules import keep_resistance
from motor.study.target import Target
from tests.unit.study.plans import ferrite

HEIGHT = "coil.winding_height"
FREE = {HEIGHT: (8e-3, 18e-3)}


def test_real_turns_fill_the_winding_height_without_jumps() -> None:
    real = relaxed(Problem(ferrite(), Target(bl_least=5.0), FREE))
    pitch = ferrite().coil.wire.pitch
    for height in (12e-3, 12.0001e-3, 12.1e-3):
        assert real.turns({HEIGHT: height}) == pytest.approx(height / pitch, rel=1e-12)
        whole = Coil.turns_per_layer.fget(real.build({HEIGHT: height}).coil)  # type: ignore[attr-defined]
        low, high = real.between(whole)
        assert low - 0.02 <= real.turns({HEIGHT: height}) <= high + 0.02


def test_a_drawn_wire_has_resistance_and_enamel_exactly() -> None:
    """With its real turns; whole ones that are nearest to them are those of the rule itself."""
    problem = Problem(ferrite(), Target(bl_least=5.0, resistance=4.2), FREE)
    real, base = relaxed(problem), ferrite().coil.wire
    for height in (9e-3, 12e-3, 17e-3):
        coil = real.build({HEIGHT: height}).coil
        assert coil.resistance(293.15) == pytest.approx(4.2, rel=1e-9)
        share = coil.wire.bare_diameter / coil.wire.overall_diameter  # type: ignore[union-attr]
        assert share == pytest.approx(base.bare_diameter / base.overall_diameter)  # type: ignore[union-attr]
        ruled = problem.plan.build({HEIGHT: height}).coil
        low, high = real.between(ruled.turns_per_layer)
        assert low - 0.03 < real.turns({HEIGHT: height}) < high + 0.03


def test_coils_of_parts_several_windings_and_series_are_refused() -> None:
    series = functools.partial(keep_resistance, series="metric")
    for problem, words in (
        (Problem(ferrite(), Target(bl_least=5.0), FREE, (series,)), "sizes of a series"),
        (
            Problem(
                ferrite().replace(coil=dataclasses.replace(ferrite().coil, windings=2)),
                Target(bl_least=5.0),
                FREE,
            ),
            "several windings",
        ),
    ):
        with pytest.raises(NoDescentError, match=words):
            relaxed(problem)
