"""What all tests share: one solved starter per geometry, and how many random cases to try.

``HYPOTHESIS_PROFILE=many`` tries thousands of random inputs instead of a few dozen.
"""

from __future__ import annotations

import os
from collections.abc import Callable

import matplotlib
import pytest
from hypothesis import HealthCheck, settings

from motor.design.starters import starter
from motor.results.motor_result import MotorResult, solve

matplotlib.use("Agg")

_SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
settings.register_profile(
    "few", max_examples=100, deadline=None, derandomize=True, suppress_health_check=_SLOW
)
settings.register_profile("many", max_examples=3000, deadline=None, suppress_health_check=_SLOW)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "few"))


@pytest.fixture(scope="session")
def solved() -> Callable[[str], MotorResult]:
    """Return the solved starter of a geometry kind; each is solved once."""
    results: dict[str, MotorResult] = {}

    def result(kind: str) -> MotorResult:
        if kind not in results:
            results[kind] = solve(starter(kind))
        return results[kind]

    return result
