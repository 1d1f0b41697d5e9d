"""A lossy inductance in the driver: circuits, fewer modes, and three solvers of one motion."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import cast

import matplotlib.pyplot as plt
import numpy as np
import pytest

from geometries import InvalidInput
from motor.design.characteristic import Polynomial
from motor.design.enclosure import Box
from motor.driver.harmonic_balance import Balance
from motor.driver.lossy import LossyInductance, Loud
from motor.driver.parts import Driver, DriverSystem
from motor.driver.programme import play
from motor.driver.run import BESIDE, MORE, UNTOLD, steel_band
from motor.driver.small_signal import response
from motor.driver.steady import SteadyState, steady_state
from motor.driver.transient import integrate
from motor.field.reduced import lagging
from motor.report.figures.driver import mark_band
from motor.report.tables.driver import band_text
from motor.results.motor_result import MotorResult
from motor.results.saturation import Saturation, shapes

TONE, VOLTS = 100.0, 6.0
POSITION = np.linspace(-8e-3, 8e-3, 17)


def lossy(times: tuple[float, ...] = (4e-5, 3e-4, 4e-3)) -> LossyInductance:
    """Return an invented inductance that falls outwards, as a coil's does that leaves its pole."""
    x = POSITION[:, None]
    bend = np.linspace(0.5, 1.5, len(times))
    coupling = math.sqrt(1.5e-3 / len(times)) * (1 - x / 0.02 * bend - (x / 0.02) ** 2)
    return LossyInductance(POSITION, 2e-4 * (1 - 10 * POSITION), np.array(times), coupling)


def saturating() -> LossyInductance:
    """Return the same in invented steel that saturates, more the deeper the coil stands."""
    x = POSITION[:, None]
    force = 1e-2 * np.array([[-40.0, 20.0, -20.0]]) * (1 - x / 0.01)
    linkage = -1e-2 * np.array([[-40.0, 20.0, -20.0]]) * (0.005 - x + x**2 / 0.02)
    law = Saturation(
        POSITION, 6.0, 2e-3 * (1 - 30 * POSITION), linkage, force, 0.0, np.zeros(len(POSITION))
    )
    return dataclasses.replace(lossy(), saturation=law)


def loud() -> LossyInductance:
    """Return one that is half as much again at large currents, and twice on the curve."""
    larger = [dataclasses.replace(saturating(), coupling=k * lossy().coupling) for k in (1.2, 1.4)]
    return dataclasses.replace(saturating(), loud=Loud(2.0, 100.0, 0.3, *larger))


def system(inductance: object = None) -> DriverSystem:
    driver = Driver(
        resistance=3.5,
        force_factor=Polynomial((6.0, 0.0, -4e4)),
        mass=0.012,
        stiffness=Polynomial((1150.0, 0.0, 5e6)),
        mechanical_resistance=1.0,
        area=0.0137,
        inductance=lossy() if inductance is None else inductance,  # type: ignore[arg-type]
    )
    return DriverSystem(driver=driver, box=Box(volume=12e-3, tuning=50.0, port_area=20e-4))


def state(made: Callable[[], LossyInductance]) -> SteadyState:
    found, _ = steady_state(system(made()), TONE, VOLTS)
    assert found is not None
    return found


def source(t: float) -> float:
    return VOLTS * math.sqrt(2) * math.sin(2 * math.pi * TONE * t)


def last_period(samples: np.ndarray, count: int) -> np.ndarray:
    found: np.ndarray = 2 * np.fft.rfft(samples[-count:]) / count
    return found


def test_impedance_is_that_of_resistors_across_inductors() -> None:
    """At rest: L0 and a chain of c^2 with c^2 / tau across each, and the moving mass."""
    f = np.geomspace(10.0, 20e3, 30)
    s, one = 2j * math.pi * f, system()
    c = one.driver.lossy.couplings(0.0)[0]  # type: ignore[union-attr]
    times = one.driver.lossy.time_constant  # type: ignore[union-attr]
    chain = sum(1 / (1 / (s * v**2) + tau / v**2) for v, tau in zip(c, times, strict=True))
    still = response(system(Polynomial((2e-4,))), f).impedance
    np.testing.assert_allclose(response(one, f).impedance, still + chain, rtol=1e-12)


@pytest.mark.parametrize("made", [lossy, saturating])
def test_jacobian_is_the_residual_s_slope(made: Callable[[], LossyInductance]) -> None:
    balance = Balance(system(made()), 80.0, 5)
    n, random = balance.size, np.random.default_rng(1)
    y = np.concatenate([1e-3 * random.normal(size=n), random.normal(size=n)])
    drive, steps = np.zeros(n), np.repeat([1e-7, 1e-5], n)
    jacobian = balance.equations(y, drive)[1]
    for k, step in enumerate(steps):
        d = np.zeros(2 * n)
        d[k] = step
        ahead, behind = (balance.equations(y + e, drive)[0] for e in (d, -d))
        slope = (ahead - behind) / (2 * step)
        np.testing.assert_allclose(jacobian[:, k], slope, atol=1e-7 * np.abs(slope).max())


def test_balance_of_harmonics_is_the_integration_s_last_period() -> None:
    """And source = heat in the coil + eddy currents' heat + friction + what is stored."""
    count, periods = 64, 15
    times = np.arange(periods * count + 1) / (count * TONE)
    motion = integrate(system(saturating()), source, times, tolerance=1e-7)
    energies = motion.energies
    assert energies is not None
    assert energies.imbalance < 1e-6
    assert 0.005 < energies.eddy[-1] / energies.supplied[-1] < 0.5
    assert (np.diff(energies.eddy) >= 0).all()
    found = state(saturating)
    period = energies.eddy[-1] - energies.eddy[-1 - count]
    assert found.eddy_power == pytest.approx(period * TONE, rel=2e-3)
    for samples, phasors in (
        (motion.displacement[1:], found.displacement),
        (motion.current[1:], found.current),
    ):
        lines = np.abs(last_period(samples, count)[1:4])
        np.testing.assert_allclose(lines, np.abs(phasors[1:4]), rtol=2e-3)


@pytest.mark.parametrize("made", [lossy, saturating])
def test_fixed_steps_give_the_same_distortion(made: Callable[[], LossyInductance]) -> None:
    rate, found = 48_000, state(made)
    u = VOLTS * math.sqrt(2) * np.sin(2 * math.pi * TONE * np.arange(int(0.2 * rate)) / rate)
    motion = play(system(made()), u, rate)
    for samples, phasors in (
        (motion.current, found.current),
        (motion.pressure, found.pressure),
    ):
        lines = np.abs(last_period(samples, int(rate / TONE))[1:4])
        np.testing.assert_allclose(lines, np.abs(phasors[1:4]), rtol=5e-3)


def test_saturation_s_shapes_are_the_slopes_of_one_energy() -> None:
    """Derivatives by current and place against differences; odd, odd and even; no kink at 0."""
    law, x, s = saturating().saturation, np.array([-3e-3, 1.3e-3]), np.array([-4.0, 7.0])
    assert law is not None
    at, d, e = law.at(x, s), 1e-4, 1e-6
    for found, ahead, behind, step in (
        (at.by_s, law.at(x, s + d).energy, law.at(x, s - d).energy, d),
        (at.by_ss, law.at(x, s + d).by_s, law.at(x, s - d).by_s, d),
        (at.by_x, law.at(x + e, s).energy, law.at(x - e, s).energy, e),
        (at.by_xs, law.at(x + e, s).by_s, law.at(x - e, s).by_s, e),
        (at.by_xx, law.at(x + e, s).by_x, law.at(x - e, s).by_x, e),
    ):
        np.testing.assert_allclose(found, (ahead - behind) / (2 * step), rtol=1e-5)
    plus, minus = (shapes(np.array(v), 6.0)[0] for v in (3.0, -3.0))
    np.testing.assert_allclose(minus, plus * [-1, -1, 1])


def test_saturation_bends_the_motion() -> None:
    """So that the comparisons above are no comparisons of nothing."""
    with_, without = (abs(state(made).displacement[3]) for made in (saturating, lossy))
    assert abs(with_ / without - 1) > 0.03


def test_modes_that_hardly_lag_are_an_inductance_without_losses() -> None:
    fast = lossy((1e-9, 2e-9))
    lossless = fast.slower_than(1e-8).instantaneous
    assert lossless.at_rest == pytest.approx(fast.characteristic.at_rest, rel=1e-6)
    one, other = (steady_state(system(each), TONE, VOLTS)[0] for each in (fast, lossless))
    assert one is not None
    assert other is not None
    assert one.thd == pytest.approx(other.thd, rel=1e-3)


def test_held_at_rest_it_no_longer_distorts() -> None:
    frozen = lossy().frozen()
    assert frozen.is_constant
    assert not lossy().is_constant
    omega = np.array([100.0, 1e4])
    np.testing.assert_allclose(frozen.impedance(omega, 5e-3), lossy().impedance(omega), rtol=1e-12)
    linear = system().driver.linear()
    found, _ = steady_state(DriverSystem(driver=linear), TONE, VOLTS)
    assert found is not None
    assert found.thd < 1e-9


def test_beyond_the_range_it_goes_on_straight() -> None:
    one, (low, high) = lossy(), POSITION[[0, -1]]
    for end, beyond in ((low, low - 1e-3), (high, high + 1e-3)):
        value, slope, _ = one.couplings(end)
        there, same, bend = one.couplings(beyond)
        np.testing.assert_allclose(there, value + slope * (beyond - end), rtol=1e-12)
        np.testing.assert_allclose(same, slope, rtol=1e-12)
        assert not bend.any()


@pytest.mark.parametrize("seed", range(4))
def test_fewer_modes_stay_within_the_tolerance_and_passive(seed: int) -> None:
    random = np.random.default_rng(seed)
    times = np.concatenate([[0.0], 10 ** random.uniform(-6.5, -2, 60)])
    smooth = np.vander(np.linspace(-1, 1, 21), 5) @ random.normal(size=(5, 61))
    frequency = np.geomspace(10.0, 20e3, 25)
    found, coupling, rest = lagging(times, smooth, frequency, 1e-2)
    assert len(found) < 45
    assert (found > 0).all()
    assert (rest > 0).all()
    static = (smooth**2).sum(axis=1)
    np.testing.assert_allclose(rest + (coupling**2).sum(axis=1), static, rtol=1e-9)
    s = 2j * math.pi * frequency[:, None]
    whole = (1 / (1 + s * times)) @ (smooth**2).T
    few = rest + (1 / (1 + s * found)) @ (coupling**2).T
    np.testing.assert_allclose(few.real, whole.real, rtol=1e-2)
    np.testing.assert_allclose(few.imag, whole.imag, rtol=1e-2)


def test_what_is_no_inductance_is_refused() -> None:
    good = lossy()
    with pytest.raises(InvalidInput, match="coupling must be of shape"):
        LossyInductance(POSITION, good.instant, good.time_constant, good.coupling[:, :2])
    with pytest.raises(InvalidInput, match="modes must be finite, with time constants above 0"):
        LossyInductance(POSITION, good.instant, 0 * good.time_constant, good.coupling)
    with pytest.raises(InvalidInput, match="follows at once must be greater than 0"):
        LossyInductance(POSITION, good.instant - 1e-3, good.time_constant, good.coupling)


def test_large_currents_meet_their_own_inductance() -> None:
    """In steady motion and in time; response and impedance keep that of small ones."""
    made = loud()
    assert made.loud is not None
    two, plain = system(made), system(saturating())
    alone = system(made.loud.inductance)
    f = np.array([50.0, 2000.0])
    np.testing.assert_array_equal(response(two, f).impedance, response(plain, f).impedance)
    found, expected = (steady_state(one, TONE, VOLTS)[0] for one in (two, alone))
    assert found is not None
    assert expected is not None
    assert found.thd == expected.thd
    samples = VOLTS * np.sin(2 * np.pi * TONE * np.arange(200) / 16e3)
    moved = [play(one, samples, 16e3).displacement for one in (two, alone, plain)]
    np.testing.assert_array_equal(moved[0], moved[1])
    assert np.abs(moved[0] - moved[2]).max() > 1e-3 * np.abs(moved[2]).max()


def test_band_tells_what_steel_does_within_the_period(monkeypatch: pytest.MonkeyPatch) -> None:
    """It starts from the motion without saturation; the field behind it has its own tests."""
    made = loud()
    assert made.loud is not None
    plain = system(made.loud.inductance.unsaturated())
    found: list[SteadyState] = []

    def same(loop: str, state: SteadyState) -> SteadyState:
        assert loop == "field"
        found.append(state)
        return state

    monkeypatch.setattr("motor.driver.run.field_loop", lambda *_: "field")
    monkeypatch.setattr("motor.driver.run.corrected", same)
    (band,) = steel_band(system(made), VOLTS, [TONE], result=cast("MotorResult", "motor"))
    expected, _ = steady_state(plain, TONE, VOLTS)
    assert expected is not None
    assert band.best == band.within == found[0].thd == expected.thd
    assert f"{band.best:.2%} with what it does within a period" in band_text([band])
    assert "do not settle; at most" in band_text([dataclasses.replace(band, within=None)])
    assert band_text([]) == ""


def test_band_of_the_steel_has_both_ends_about_the_model() -> None:
    made = loud()
    assert made.loud is not None
    (band,) = steel_band(system(made), VOLTS, [TONE])
    ends = [dataclasses.replace(made, loud=None), made.loud.curve]
    loops, curve = (steady_state(system(end), TONE, VOLTS)[0] for end in ends)
    assert loops is not None
    assert curve is not None
    assert (band.loops, band.curve) == (loops.thd, curve.thd)
    assert band.loops < band.thd < band.curve < band.most
    assert band.uncertainty == band.most - band.thd
    found = dataclasses.replace(band, within=band.curve)
    assert band.most - BESIDE == pytest.approx(UNTOLD * band.curve)
    assert found.most - BESIDE == pytest.approx(MORE * band.curve)
    assert f"its rounds do not settle; at most {band.most:6.2%}" in band_text([band])
    assert f"{found.within:6.2%} with what it does within a period" in band_text([found])
    ax = mark_band(plt.figure().add_subplot(), [found])
    (bar,) = ax.containers
    assert bar[0].get_ydata()[0] == pytest.approx(100 * found.best)
    assert ax.get_lines()[-1].get_ydata()[-1] == pytest.approx(100 * found.most)
    plt.close("all")
    assert steel_band(system(saturating()), VOLTS) == ()
    frozen = made.frozen()
    assert frozen.loud is not None
    assert frozen.loud.inductance.is_constant
    unsaturated = made.unsaturated()
    assert unsaturated.loud is not None
    assert unsaturated.loud.curve.saturation is None
