"""A motor that several files differentiate."""

from __future__ import annotations

import dataclasses

import pytest

import motor
from motor.results.motor_result import MotorResult


@pytest.fixture(scope="session")
def result() -> MotorResult:
    """Return a motor none of whose corners would part, with a coil away from the middle."""
    design = motor.starter("inside-magnet")
    coil = dataclasses.replace(design.coil, rest_position=0.4e-3)
    return motor.solve(design.replace(coil=coil))
