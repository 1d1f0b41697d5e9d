"""Columns and targets of the coil's own field: inductance at a frequency, Bl under a current."""

from __future__ import annotations

import numpy as np
import pytest

from motor.base.errors import InvalidInput
from motor.design.starters import starter
from motor.results.quantities import COIL_CURRENT, INDUCTANCE
from motor.study.evaluate import Measure, job_of, solve_jobs
from motor.study.target import Target

FREQUENCY, CURRENT = 300.0, 6.0


@pytest.fixture(scope="module")
def record() -> dict[str, float]:
    measure = Measure(inductance_at=FREQUENCY, coil_current=CURRENT)
    (outcome,) = solve_jobs([job_of(starter("outside-magnet"), measure)])
    assert outcome.error == ""
    return dict(outcome.results or {})


def test_a_study_holds_every_figure_with_its_uncertainties(record: dict[str, float]) -> None:
    for quantity in (*INDUCTANCE, *COIL_CURRENT):
        for key in quantity.keys:
            assert np.isfinite(record[key]), key


def test_figures_of_the_inductance_belong_together(record: dict[str, float]) -> None:
    """Materials leave ten times as open as the mesh; eddy currents take their share of force."""
    assert 0 < record["inductance_swing_mH"] < 2 * record["inductance_at_rest_mH"]
    numerical = record["inductance_at_rest_uncertainty_mH"]
    assert record["inductance_at_rest_material_uncertainty_mH"] > 3 * numerical
    whole = record["coil_resistance_ohm"] + record["eddy_resistance_at_rest_ohm"]
    expected = record["bl_at_rest_Tm"] ** 2 / whole
    assert record["force_squared_per_watt_N2_per_W"] == pytest.approx(expected)
    assert expected < record["motor_constant_N2_per_W"]


def test_figures_under_current_belong_together(record: dict[str, float]) -> None:
    """The reluctance force pulls inwards, half its peak on average as long as it is a square."""
    bl, share = record["bl_under_current_Tm"], record["bl_asymmetry_over_current_percent"]
    assert bl == pytest.approx(record["bl_at_rest_Tm"], rel=0.02)
    assert share < 0
    even = share / 100 * bl * CURRENT
    assert record["current_pull_N"] == pytest.approx(-even / 2, rel=0.05)
    change = record["bl_change_by_current_percent"]
    assert bl / record["bl_at_rest_Tm"] - 1 == pytest.approx(change / 100, abs=3e-4)


def test_a_limit_asks_for_its_frequency_or_current() -> None:
    asked = Target(
        inductance_at=1000.0,
        coil_current=4.0,
        further={"inductance_swing_most": 1e-4, "current_pull_most": 0.5},
    )
    assert asked.measure == Measure(inductance_at=1000.0, coil_current=4.0)
    swing, pull = asked.requirements({"inductance_swing_mH": 0.2, "current_pull_N": 0.25})
    assert (swing.limit, swing.unit, swing.slack) == (0.1, "mH", pytest.approx(-1.0))
    assert pull.slack == pytest.approx(0.5)
    with pytest.raises(InvalidInput, match="inductance_at must be given with inductance_swing_mo"):
        Target(further={"inductance_swing_most": 1e-4})
    with pytest.raises(InvalidInput, match="coil_current must be given with current_pull_most"):
        Target(further={"current_pull_most": 0.5})
