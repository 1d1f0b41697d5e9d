"""Targets that need more than the field: the section [heat], parts off centre or apart."""

from __future__ import annotations

import dataclasses

import pytest

from motor.base.errors import InvalidInput
from motor.study.evaluate import Measure
from motor.study.problem import Problem
from motor.study.target import Target
from tests.unit.study.plans import ferrite

FREE = {"coil.winding_height": (8e-3, 18e-3)}


def test_heat_is_asked_only_of_a_design_with_a_power() -> None:
    target = Target(further={"largest_power_least": 20.0})
    plain = ferrite()
    with pytest.raises(InvalidInput, match=r"largest_power_least .*section \[heat\] gives a power"):
        Problem(plain, target, FREE)
    powered = plain.replace(heat=dataclasses.replace(plain.heat, power=10.0))
    assert Problem(powered, target, FREE).target.warm == ("largest_power_least",)
    assert Problem(plain, target, {**FREE, "heat.power": (1.0, 9.0)}).target is target


def test_a_margin_of_zero_may_be_asked_and_its_miss_is_counted_in_kelvin() -> None:
    target = Target(further={"thermal_margin_least": 0.0})
    (asked,) = target.requirements({"thermal_margin_K": -5.0})
    assert asked.slack == pytest.approx(-0.1)
    assert asked.sentence() == ("thermal margin must be at least 0 K; reached -5 K (10.0 % short)")
    with pytest.raises(InvalidInput, match=r"thermal_margin_least must be a difference in K"):
        Target(further={"thermal_margin_least": 283.15})


def test_a_limit_of_pull_asks_for_what_it_needs() -> None:
    plain = Target(bl_least=5.0)
    assert not plain.measure.off_centre
    asked = Target(
        assembly=("top_plate",),
        holding=50.0,
        further={"radial_stiffness_most": 80e3, "assembly_peak_most": 200.0},
    )
    assert asked.measure == Measure(off_centre=True, assembly=("top_plate",), holding=50.0)
    record = {"radial_stiffness_N_per_mm": 100.0, "assembly_peak_N": 150.0}
    stiff, peak = asked.requirements(record)
    assert (stiff.limit, stiff.unit, stiff.slack) == (80.0, "N/mm", pytest.approx(-0.25))
    assert peak.slack == pytest.approx(0.25)
    with pytest.raises(InvalidInput, match="holding must be given with holding_distance"):
        Target(assembly=("top_plate",), further={"holding_distance_most": 0.01})
