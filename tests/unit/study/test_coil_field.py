"""Columns and targets of the coil's own field: at a frequency, under a current, of a tone."""

from __future__ import annotations

import numpy as np
import pytest

from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.design.starters import starter
from motor.driver.run import SteelBand
from motor.field.field import Estimate
from motor.results.coil_figures import InductanceFigures
from motor.results.coil_model import coil_modes
from motor.results.impedance import BlockedImpedance
from motor.results.motor_result import solve
from motor.results.quantities import COIL_CURRENT, INDUCTANCE
from motor.study.evaluate import Measure, job_of, solve_jobs
from motor.study.target import Target

FREQUENCY, CURRENT = 300.0, 6.0


def blocked(frequency: float, inductance: Floats, resistance: Floats) -> BlockedImpedance:
    """Return an impedance at one frequency, known to a part in a thousand."""
    places = np.linspace(-1e-3, 1e-3, inductance.shape[1])
    known = (1e-3 * abs(inductance), 1e-3 * abs(resistance))
    return BlockedImpedance(
        starter("outside-magnet"),
        np.array([frequency]),
        places,
        6.0,
        inductance,
        known[0],
        resistance,
        known[1],
        1000,
        *known,
    )


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


def test_lag_of_the_reluctance_force() -> None:
    """One closed circuit (L/R): atan(w tau), any textbook; the other end as a push outwards."""
    frequency, tau = 400.0, 3e-4
    omega = 2 * np.pi * frequency
    linkage = 1e-3 + np.array([[0.9e-3, 0.5e-3, 0.2e-3]]) / (1 + 1j * omega * tau)

    def figures(z: Complexes) -> InductanceFigures:
        one = blocked(frequency, z.real, -omega * z.imag)
        return InductanceFigures(one, Estimate(5.0, 0.01))

    lag = figures(linkage).force_lag
    assert lag.value == pytest.approx(np.arctan(omega * tau), rel=1e-12)
    assert 0 < lag.uncertainty < 0.1
    assert figures(linkage[:, ::-1]).force_lag.value == pytest.approx(lag.value + np.pi)
    assert figures(linkage[:, [1, 1]]).force_lag.uncertainty == pytest.approx(np.pi)


def test_the_lag_is_that_of_the_force_in_modes(record: dict[str, float]) -> None:
    """The mean over the stroke of  sum c' a  in modes, which are made another way."""
    result = solve(starter("outside-magnet"))
    modes, reach = coil_modes(result), result.stroke_82.symmetric.value
    x = np.linspace(-reach, reach, 201)
    late = 1 / (1 + 2j * np.pi * FREQUENCY * modes.time_constant)
    pull = -(modes.coupling_at(x, 1) * modes.coupling_at(x) * late).sum(axis=1)
    expected = -np.degrees(np.angle(np.trapezoid(pull, x)))
    stated = record["reluctance_force_lag_uncertainty_deg"]
    assert record["reluctance_force_lag_deg"] == pytest.approx(expected, abs=stated)
    assert stated < 2 < record["reluctance_force_lag_material_uncertainty_deg"]


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


def test_a_tone_s_distortion_is_uncertain_by_what_steel_leaves_open(
    record: dict[str, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read off the band at that tone; the band itself has its tests beside the driver."""
    band = SteelBand(100.0, 8.0, 0.019, 0.01, 0.025, 0.02)
    asked: list[tuple[float, list[float]]] = []

    def told(_: object, voltage: float, tones: list[float], **__: object) -> tuple[SteelBand, ...]:
        asked.append((voltage, tones))
        return (band,)

    monkeypatch.setattr("motor.study.evaluate.system_of", lambda *_, **__: None)
    monkeypatch.setattr("motor.study.evaluate.steel_band", told)
    (outcome,) = solve_jobs(
        [job_of(starter("outside-magnet"), Measure(tone_at=100.0, tone_voltage=8.0))]
    )
    found = dict(outcome.results or {})
    assert asked == [(8.0, [100.0])]
    assert found["tone_distortion_percent"] == pytest.approx(2.0)
    assert band.uncertainty == band.most - 0.02
    assert found["tone_distortion_uncertainty_percent"] == pytest.approx(100 * band.uncertainty)
    assert "tone_distortion_percent" not in record


def test_a_limit_of_distortion_asks_for_its_tone() -> None:
    most = {"tone_distortion_most": 0.01}
    asked = Target(tone_at=100.0, tone_voltage=8.0, further=most)
    assert asked.measure == Measure(tone_at=100.0, tone_voltage=8.0)
    (need,) = asked.requirements({"tone_distortion_percent": 2.0})
    assert (need.limit, need.unit, need.slack) == (1.0, "%", pytest.approx(-1.0))
    with pytest.raises(InvalidInput, match="tone_voltage must be given with tone_distortion_most"):
        Target(tone_at=100.0, further=most)
