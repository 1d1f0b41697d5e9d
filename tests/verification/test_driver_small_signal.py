"""The linear driver against its textbook formulas and against scipy.signal.

Sources: Thiele (JAES 19, 1971) and Small (JAES 20 and 21, 1972 and 1973) for the parameters and
the responses; the numbers of the synthetic set were computed independently from them, to five
digits.  scipy.signal evaluates transfer functions and state space models that are written down
here from the circuit, not taken from the program.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from motor.design.enclosure import AIR_DENSITY, SOUND_SPEED, Amplifier, Box
from motor.driver.alignments import sealed_alignments, vented_alignment
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import response, small_signal
from motor.driver.transient import integrate
from tests.verification.checks import check, identity, other_route, outside
from tests.verification.driver_cases import AREA, BL, LE, LOSSES, MASS, RE, K, driver

SMALL = outside("Thiele 1971, Small 1972, formulas")
SYNTHETIC = other_route("Thiele 1971, Small 1972; synthetic set computed independently")
CUTOFF = identity("the response is 3 dB down at its cut-off")
SCIPY = outside("scipy.signal")
PRINTED = 1.3e-4
"""Five significant digits, four where the value is given to four (0.4554, 0.3958)."""
DECIBEL = 6e-3
"""Given to hundredths of a dB."""
EXACT = 1e-9
"""Both sides are closed forms; only rounding differs."""
INTEGRATED = 1e-6
"""Integration at relative tolerance 1e-9 against the matrix exponential of scipy.signal.lsim."""
THIELE_PRINTED = 5e-3
"""Thiele's table gives three digits (from memory)."""

EXPECTED = {
    "fs": (39.851, "Hz"),
    "qms": (3.0256, ""),
    "qes": (0.4554, ""),
    "qts": (0.3958, ""),
    "vas": (29.148e-3, "m^3"),
    "efficiency": (0.39628e-2, ""),
    "motor_constant": (7.972, "N^2/W"),
}


@pytest.mark.parametrize("name", EXPECTED)
def test_synthetic_set(name: str) -> None:
    value, unit = EXPECTED[name]
    found = getattr(small_signal(driver()), name)
    check(f"{name} of the synthetic driver ({unit or '1'})", SYNTHETIC, value, found, PRINTED)


def test_level_of_the_synthetic_set() -> None:
    parts = small_signal(driver())
    check("level at 1 W, 1 m (dB)", SYNTHETIC, 88.12, parts.level_1w, DECIBEL, relative=False)
    whole = parts.level_1w - 10 * math.log10(parts.efficiency)
    check("level of 100 % efficiency (dB)", SMALL, 112.14, whole, DECIBEL, relative=False)


def test_efficiency_from_resonance_volume_and_q() -> None:
    parts = small_signal(driver())
    other = 4 * math.pi**2 / SOUND_SPEED**3 * parts.fs**3 * parts.vas / parts.qes
    check("reference efficiency by Small's formula", SMALL, other, parts.efficiency, EXACT)


def test_largest_impedance() -> None:
    parts = small_signal(driver(inductance=0.0))
    found = response(DriverSystem(driver=driver(inductance=0.0)), parts.fs).impedance[0]
    check(
        "impedance at resonance, Re + Bl^2/Rms (ohm)", SMALL, RE + BL**2 / LOSSES, found.real, EXACT
    )
    assert abs(found.imag) < 1e-9


@pytest.mark.parametrize("frequency", [12.0, 39.85, 80.0, 400.0, 5000.0])
def test_impedance(frequency: float) -> None:
    s = 2j * math.pi * frequency
    expected = RE + s * LE + BL**2 / (LOSSES + s * MASS + K / s)
    found = response(DriverSystem(driver=driver()), frequency).impedance[0]
    check(f"|impedance| at {frequency:g} Hz (ohm)", SMALL, abs(expected), abs(found), EXACT)
    check(
        f"its phase at {frequency:g} Hz (rad)",
        SMALL,
        np.angle(expected),
        np.angle(found),
        EXACT,
        relative=False,
    )


def sealed_second_order(f: float, volume: float) -> float:
    """Return |p| at 2.83 V by Small's second-order high-pass, without inductance."""
    parts = small_signal(driver(inductance=0.0))
    grow = math.sqrt(1 + parts.vas / volume)
    wc, qc = 2 * math.pi * parts.fs * grow, parts.qts * grow
    _, h = signal.freqs([1, 0, 0], [1, wc / qc, wc**2], worN=[2 * math.pi * f])
    passband = AIR_DENSITY * AREA * BL * 2.83 / (2 * math.pi * RE * MASS)
    return float(passband * abs(h[0]))


@pytest.mark.parametrize("frequency", [20.0, 60.0, 300.0])
def test_sealed_response(frequency: float) -> None:
    system = DriverSystem(driver=driver(inductance=0.0), box=Box(volume=15e-3))
    found = abs(response(system, frequency).pressure[0])
    expected = sealed_second_order(frequency, 15e-3)
    check(f"pressure in a sealed box at {frequency:g} Hz (Pa)", SCIPY, expected, found, EXACT)


@pytest.mark.parametrize("frequency", [15.0, 30.0, 45.0, 200.0])
def test_vented_response_with_leaks(frequency: float) -> None:
    """Small 1973, part I, equation 13: fourth-order high-pass with leakage loss QL."""
    ql, fb, volume = 7.0, 38.0, 30e-3
    system = DriverSystem(driver=driver(inductance=0.0), box=Box(volume=volume, tuning=fb))
    parts = small_signal(system.driver)
    ts, tb = 1 / (2 * math.pi * parts.fs), 1 / (2 * math.pi * fb)
    alpha, qt = parts.vas / volume, parts.qts
    denominator = [
        tb**2 * ts**2,
        tb**2 * ts / qt + tb * ts**2 / ql,
        (alpha + 1) * tb**2 + tb * ts / (ql * qt) + ts**2,
        tb / ql + ts / qt,
        1.0,
    ]
    _, h = signal.freqs([tb**2 * ts**2, 0, 0, 0, 0], denominator, worN=[2 * math.pi * frequency])
    passband = AIR_DENSITY * AREA * BL * 2.83 / (2 * math.pi * RE * MASS)
    found = abs(response(system, frequency).pressure[0])
    check(
        f"pressure of a vented box at {frequency:g} Hz (Pa)",
        outside("Small 1973 by scipy.signal"),
        passband * abs(h[0]),
        found,
        EXACT,
    )


def state_space(system: DriverSystem) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg]
    """Return A and B of x, v, i, box pressure and port flow, written from the circuit."""
    assert system.box is not None
    box, r = system.box, RE + system.amplifier.output_resistance
    c, g, m = box.compliance, box.leak_conductance, box.port_mass
    assert m is not None
    a = [
        [0, 1, 0, 0, 0],
        [-K / MASS, -LOSSES / MASS, BL / MASS, AREA / MASS, 0],
        [0, -BL / LE, -r / LE, 0, 0],
        [0, -AREA / c, 0, -g / c, -1 / c],
        [0, 0, 0, 1 / m, 0],
    ]
    return np.array(a), np.array([[0], [0], [1 / LE], [0], [0]])


def test_linear_motion_in_a_vented_box() -> None:
    """A sine from rest, all transients included."""
    system = DriverSystem(
        driver=driver(),
        box=Box(volume=25e-3, tuning=40.0),
        amplifier=Amplifier(output_resistance=0.3),
    )
    t = np.linspace(0, 0.05, 2001)
    u = 8 * np.sin(2 * math.pi * 50 * t)
    a, b = state_space(system)
    _, _, expected = signal.lsim((a, b, np.eye(5), np.zeros((5, 1))), u, t, interp=True)
    found = integrate(system, lambda s: float(np.interp(s, t, u)), t, tolerance=1e-8)
    for what, k, got in (
        ("travel (m)", 0, found.displacement),
        ("box pressure (Pa)", 3, found.box_pressure),
    ):
        size = np.abs(expected[:, k]).max()
        error = np.abs(got - expected[:, k]).max() / size
        check(f"{what} in time, largest difference over peak", SCIPY, 0.0, error, INTEGRATED, False)


def test_butterworth_vented_alignment() -> None:
    """Thiele's alignment 5: Qts 0.383, Vas/Vb 1.414, fb = fs = f3."""
    qt = 0.3827
    share = qt / small_signal(driver()).qts
    tuned = driver(bl=(1 / math.sqrt(share),))  # Qes falls with Bl squared; Qms is adjusted next
    parts = small_signal(tuned)
    losses = parts.mms * 2 * math.pi * parts.fs * (1 / qt - 1 / parts.qes)
    parts = small_signal(tuned.replace(mechanical_resistance=losses))
    found = vented_alignment(parts)
    source = outside("Thiele 1971, alignment 5, from memory")
    assert found.box.tuning is not None
    check("fb/fs", source, 1.0, found.box.tuning / parts.fs, THIELE_PRINTED)
    check("Vas/Vb", source, 1.414, parts.vas / found.box.volume, THIELE_PRINTED)
    check("f3/fs", source, 1.0, found.cutoff / parts.fs, THIELE_PRINTED)


def test_cutoff_of_sealed_alignments_is_minus_three_decibels() -> None:
    parts = small_signal(driver(inductance=0.0))
    for alignment in sealed_alignments(parts):
        system = DriverSystem(driver=driver(inductance=0.0), box=alignment.box)
        at = np.abs(response(system, [alignment.cutoff, 1e5]).pressure)
        check(f"f3, {alignment.name} (share)", CUTOFF, math.sqrt(0.5), at[0] / at[1], 1e-6)


@pytest.mark.parametrize("bl", [0.8, 0.95, 1.3])
def test_cutoff_of_vented_alignments_without_losses(bl: float) -> None:
    drv = driver(bl=(bl,), inductance=0.0)
    parts = small_signal(drv)
    found = vented_alignment(parts)
    tight = Box(volume=found.box.volume, tuning=found.box.tuning, leak_corner=0.0)
    at = np.abs(response(DriverSystem(driver=drv, box=tight), [found.cutoff, 1e5]).pressure)
    check(
        f"f3, vented {found.name}, Qts {parts.qts:.3f}",
        CUTOFF,
        math.sqrt(0.5),
        at[0] / at[1],
        1e-5,
    )
