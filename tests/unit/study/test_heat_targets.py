"""Targets asked of a motor that plays the programme of its section [heat]."""

from __future__ import annotations

import dataclasses

import pytest

from motor.base.errors import InvalidInput
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
