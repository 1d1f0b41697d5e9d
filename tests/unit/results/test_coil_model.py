"""The coil's field in modes: beside direct solves, passive everywhere, limits, fits, hand-over."""

from __future__ import annotations

import functools
import json
import math
from pathlib import Path

import numpy as np
import pytest

import motor
from geometries import InvalidInput
from motor.report.files.coil_model import save_coil_model
from motor.results.coil_model import CoilModel, coil_model
from motor.results.impedance import HIGHEST, blocked_impedance, equations
from motor.results.lossy_inductance import lossy_fits
from motor.results.motor_result import MotorResult, solve
from motor.results.parallel_parts import loads_at

FREQUENCIES = np.array([0.0, 30.0, 400.0, 2500.0, 15000.0])


@functools.cache
def result() -> MotorResult:
    return solve(motor.starter("inside-magnet"))


@functools.cache
def model() -> CoilModel:
    return coil_model(result())


def places(count: int, seed: int = 3) -> np.ndarray:
    low, high = result().bl_curve.x[[0, -1]]
    return np.sort(np.random.default_rng(seed).uniform(low, high, count))


def test_beside_direct_solves_on_the_same_mesh() -> None:
    """At places and frequencies that the modes were not made from, within their stated misfit."""
    found, x = model(), places(7)
    whole = equations(result(), result().field.fine, found.modes.position, HIGHEST)
    loads = loads_at(whole.level, result().design.coil, x)
    for f in FREQUENCIES[1:]:
        linked = 2 * np.pi * np.einsum("nk,nk->k", loads, whole.potentials(float(f), loads))
        at = np.array([f])
        resistance = -2 * np.pi * f * linked.imag
        np.testing.assert_allclose(found.inductance(x, at)[0], linked.real, rtol=found.misfit)
        np.testing.assert_allclose(found.eddy_resistance(x, at)[0], resistance, rtol=found.misfit)
    assert 0 < found.misfit < 0.01
    assert len(found.modes.time_constant) < whole.unknowns / 50


def test_agrees_with_the_impedance_within_both_uncertainties() -> None:
    found, x = model(), places(3)
    direct = blocked_impedance(result(), x.tolist(), FREQUENCIES.tolist())
    stated = found.uncertainty(x, FREQUENCIES)
    for k, part in enumerate(("inductance", "eddy_resistance")):
        got, other = getattr(found, part)(x, FREQUENCIES), getattr(direct, part)
        room = stated[k] + getattr(direct, f"{part}_uncertainty")
        assert (np.abs(got - other) <= room).all()
        spread = found.material_uncertainty(x, FREQUENCIES)[k]
        expected = getattr(direct, f"{part}_material_uncertainty")
        assert (np.abs(spread - expected) <= 0.2 * expected + 0.01 * other).all()


def test_passive_at_random_places() -> None:
    found, x = model(), places(200, seed=9)
    frequency = np.geomspace(1.0, HIGHEST, 60)
    assert (found.modes.time_constant >= 0).all()
    inductance, resistance = found.inductance(x, frequency), found.eddy_resistance(x, frequency)
    assert (inductance > 0).all()
    assert (resistance > 0).all()
    assert (np.diff(inductance, axis=0) < 0).all()
    assert (np.diff(resistance, axis=0) > 0).all()


def test_coils_at_two_places_act_on_each_other_alike() -> None:
    """Reciprocity, and no more coupling than the two inductances allow."""
    found = model().modes
    one, other = found.coupling_at(places(2))
    for f in (10.0, 1000.0):
        answer = 1 / (1 + 2j * math.pi * f * found.time_constant)
        there, back = (one * answer) @ other, (other * answer) @ one
        assert there == pytest.approx(back, rel=1e-12)
        assert abs(there) < abs(one**2 @ answer) ** 0.5 * abs(other**2 @ answer) ** 0.5 * 1.000001


def test_steady_force_is_half_the_slope_of_the_inductance() -> None:
    """At a steady current i the modes hold c i, and the force is i^2 dL/dx / 2."""
    found, x, step = model(), 1e-3, 1e-5
    still = np.zeros(1)
    ahead, behind = (found.inductance(np.array([x + d]), still)[0, 0] for d in (step, -step))
    expected = 3.0**2 / 2 * (ahead - behind) / (2 * step)
    state = 3.0 * found.modes.coupling_at(np.array(x))
    assert found.force(x, 3.0, state) == pytest.approx(expected, rel=1e-3)


def test_hand_over(tmp_path: Path) -> None:
    found = model()
    written = {path.name for path in save_coil_model(found, tmp_path)}
    assert {"coil_model.json", "coil_model.csv", "coil.cir"} <= written
    record = json.loads((tmp_path / "coil_model.json").read_text(encoding="utf-8"))
    coupling, times = np.array(record["coupling_sqrt_H"]), np.array(record["time_constant_s"])
    middle = len(coupling) // 2
    linkage = (coupling[middle] ** 2 / (1 + 2j * math.pi * 500 * times)).sum()
    at = found.modes.position[[middle]]
    assert linkage.real == pytest.approx(found.inductance(at, np.array([500.0]))[0, 0], rel=1e-9)
    assert (tmp_path / "coil.cir").read_text(encoding="utf-8").startswith("* ")


def test_short_forms_find_what_they_are() -> None:
    frequency = np.geomspace(20.0, 20e3, 40)
    s = 2j * np.pi * frequency
    two, fractional, series = (
        lossy_fits(frequency, impedance)[k]
        for k, impedance in enumerate(
            (
                s * 0.2e-3 + s * 0.6e-3 * 5 / (5 + s * 0.6e-3),
                0.02 * s**0.7,
                0.02 * s**0.6 + s * 1e-4,
            )
        )
    )
    assert two.values == pytest.approx({"L1_mH": 0.2, "L2_mH": 0.6, "R2_ohm": 5.0}, rel=1e-4)
    assert fractional.values == pytest.approx({"K_ohm_s_to_n": 0.02, "n": 0.7}, rel=1e-4)
    expected = {"K_ohm_s_to_n": 0.02, "n": 0.6, "L_mH": 0.1}
    assert series.values == pytest.approx(expected, rel=1e-3)
    assert max(two.misfit, fractional.misfit, series.misfit) < 1e-5
    for fit in model().fits():
        assert 1e-4 < fit.misfit < 0.5


@pytest.mark.parametrize(
    ("x", "frequency", "message"),
    [
        (0.1, 100.0, "position must lie within the coil's travel"),
        (math.nan, 100.0, "position must lie within the coil's travel"),
        (0.0, -1.0, "frequency must lie between 0 and 20000 Hz"),
        (0.0, math.nan, "frequency must lie between 0 and 20000 Hz"),
    ],
)
def test_wrong_input_is_refused(x: float, frequency: float, message: str) -> None:
    with pytest.raises(InvalidInput, match=message):
        model().inductance(np.array([x]), np.array([frequency]))


def test_unknown_permeability_is_refused() -> None:
    with pytest.raises(InvalidInput, match="permeability must be reversible or slope"):
        coil_model(result(), "full")
