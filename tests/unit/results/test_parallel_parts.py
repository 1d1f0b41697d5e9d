"""Parts in parallel as one coil in modes: beside coupled coils at each frequency, and limits."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

import motor
from geometries import InvalidInput
from motor.base.arrays import Complexes, Floats
from motor.design.winding_part import WindingPart
from motor.results.coil_model import Modes, coil_model
from motor.results.eddy_heat import EddyHeat
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult, read_off
from motor.results.parallel_parts import between, one_current

Solved = Callable[[str], MotorResult]
COIL = dataclasses.replace(
    motor.starter("outside-magnet").coil,
    connection="parallel",
    winding_height=4e-3,
    parts=(WindingPart(name="lower", place=-8e-3, winding_height=7e-3, layers=2),),
)
KELVIN = 330.0
OHM = np.array([one.resistance(KELVIN) for one in COIL.each])
X = np.linspace(-5e-3, 5e-3, 11)
TIMES = np.concatenate([[0.0], np.geomspace(3e-6, 0.03, 39)])


def couplings(spread: float = 1.0) -> Floats:
    """Two parts whose middles pass two places of a field, (m, k, part), root of henry."""
    rng = np.random.default_rng(7)
    size = 4e-3 * rng.uniform(0.5, 1.5, (1, len(TIMES), 1))
    place = rng.uniform(-8e-3, 8e-3, (1, len(TIMES), 1))
    middle = X[:, None, None] + spread * np.array([4e-3, -3e-3])
    return np.asarray(size / (1 + ((middle - place) / 6e-3) ** 2))


def side_by_side(c: Floats, s: Complexes) -> Complexes:
    """1 / (1' Z^-1 1) of coupled coils (any book on circuits), less R, over s: (f, m)."""
    answers = 1 / (1 + s[:, None] * TIMES)
    linked = np.einsum("mkp,fk,mkq->fmpq", c, answers, c)
    whole = np.diag(OHM) + s[:, None, None, None] * linked
    admittance = np.linalg.solve(whole, np.ones((*whole.shape[:3], 1))).sum(axis=(2, 3))
    return np.asarray((1 / admittance - 1 / (1 / OHM).sum()) / s[:, None])


def test_beside_coupled_coils_at_each_frequency() -> None:
    c = couplings()
    found = Modes(TIMES, X, one_current(COIL, KELVIN, TIMES, c))
    f = np.geomspace(5.0, 20e3, 17)
    exact = side_by_side(c, 2j * np.pi * f)
    got = found.linkage(X, f)
    np.testing.assert_allclose(got.real, exact.real, rtol=6e-3)
    np.testing.assert_allclose(got.imag, exact.imag, rtol=6e-3)
    steady = c @ (1 / OHM) / (1 / OHM).sum()
    np.testing.assert_allclose((found.coupling**2).sum(1), (steady**2).sum(1), rtol=6e-3)
    without = Modes(TIMES, X, steady).linkage(X, f)
    assert np.abs(without / exact - 1).max() > 0.05  # sharing matters here


def test_equal_parts_at_one_place_are_one_part_with_its_flux() -> None:
    """Nothing flows between them: each part's couplings, as the current halves and flux stays."""
    c = couplings(spread=0.0)
    np.testing.assert_allclose(one_current(COIL, KELVIN, TIMES, c), c[..., 0], rtol=1e-6)


def test_nothing_that_conducts_is_refused() -> None:
    with pytest.raises(InvalidInput, match="be series where no part conducts"):
        one_current(COIL, KELVIN, np.zeros(len(TIMES)), couplings())


def test_resistance_is_the_heat_of_parts_and_of_sharing() -> None:
    c, f = couplings(), np.full(len(X), 900.0)
    steady, circuits = between(COIL, KELVIN, c)
    masses = np.array([0.3, 0.7])[:, None, None] * np.diag(TIMES)
    share, none = np.full(len(X), 1 / len(X)), np.zeros(1)
    found = EddyHeat(("a", "b"), share, 2 * np.pi * f, steady, masses, none, circuits)
    exact = (2j * np.pi * f * side_by_side(c, 2j * np.pi * f[:1]))[0]
    np.testing.assert_allclose(found.impedance, exact, rtol=1e-9)
    heat = found.resistance.sum(axis=1) + found.sharing
    np.testing.assert_allclose(heat, exact.real, rtol=1e-9)
    volts, coil = 3.0, 1 / (1 / OHM).sum()
    taken = found.taken(volts, coil, 0.1)
    assert found.heats(volts, coil, 0.1).sum() == pytest.approx(taken)


def test_a_coil_in_modes_agrees_with_its_impedance(
    solved: Solved, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a coarse mesh up to 2 kHz, parts of uneven resistance, few modes."""
    result = solved("outside-magnet")
    one_mesh = dataclasses.replace(result.field, fine=result.field.coarse)
    coil = dataclasses.replace(COIL, inner_diameter=result.design.coil.inner_diameter)
    read = read_off(result.design.replace(coil=coil), one_mesh)
    monkeypatch.setattr("motor.results.coil_model.HIGHEST", 2e3)
    monkeypatch.setattr("motor.results.coil_model.STILL", 25)
    monkeypatch.setattr("motor.results.coil_model.EVERY", 4)
    monkeypatch.setattr("motor.results.coil_model.TURNS", 1)  # rates too far apart for more
    monkeypatch.setattr("motor.results.coil_model.RATES", (60.0, 600.0, 6e3, 6e4))
    monkeypatch.setattr("motor.results.coil_model.PROBED", (400.0,))
    found = coil_model(read)
    x, f = 0.37 * found.modes.position[[0, -1]], [30.0, 1900.0]
    direct = blocked_impedance(read, x.tolist(), f)
    L, R = found.inductance(x, np.array(f)), found.eddy_resistance(x, np.array(f))
    np.testing.assert_allclose(L, direct.inductance, rtol=5e-3)
    np.testing.assert_allclose(R, direct.eddy_resistance, rtol=0.05)  # on another mesh
    assert found.misfit < 0.05
