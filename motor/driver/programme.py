"""Any signal through the driver: samples or a WAV file, with a fixed fine step."""

from __future__ import annotations

import itertools
import math
import warnings
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.base.user_files import check_file
from motor.driver.lossy_steps import play_lossy
from motor.driver.parts import DriverSystem
from motor.driver.transient import Equations, Motion

__all__ = ["play", "read_wav"]

LOWEST_RATE, HIGHEST_RATE = 8000, 192_000
"""Sampling rates in Hz that are taken: below, the coil's current is not resolved."""
LONGEST = 60.0
"""Seconds of signal taken at most."""
MOST = 200_000_000
"""Bytes of a WAV file."""
CELLS = 4000
"""Cells of the uniform tables: linear between them errs by less than 1e-6 of Bl."""
State = tuple[float, float, float, float, float]
STABLE = 1.0
"""Largest step over the coil's time constant L/R; the method bears 2.7."""


def read_wav(path: str | Path) -> tuple[Floats, int]:
    """Return one channel (the mean of all) as samples of full scale 1, and the rate in Hz.

    Raises
    ------
    InvalidInput
        If the file cannot be read, is empty or too long, or has an unsuitable rate.
    """
    from scipy.io import wavfile

    check_file(Path(path), "WAV file", MOST)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)
            rate, data = wavfile.read(path)
    except Exception as cause:  # the reader trips over what is no WAV file in many ways
        words = str(cause) or type(cause).__name__
        if "not understood" in words:  # with the first letters of a file that is none
            words = "it does not begin as a WAV file does"
        raise InvalidInput("WAV file", "be readable", f"{path}: {words}") from None
    if data.dtype == np.uint8:
        samples = data.astype(float) / 128 - 1
    elif np.issubdtype(data.dtype, np.integer):
        samples = data.astype(float) / -float(np.iinfo(data.dtype).min)
    else:
        samples = data.astype(float)
    if samples.ndim == 2:
        samples = samples.mean(axis=1)
    check_signal(samples, rate)
    return samples, int(rate)


def check_signal(samples: Floats, rate: float) -> None:
    """Raise InvalidInput for a signal that cannot be played."""
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise InvalidInput(
            "sampling rate", f"be between {LOWEST_RATE} and {HIGHEST_RATE} Hz", f"{rate} Hz"
        )
    if samples.ndim != 1 or len(samples) < 2 or not np.isfinite(samples).all():
        raise InvalidInput("signal", "be at least 2 finite samples", f"shape {samples.shape}")
    if len(samples) / rate > LONGEST:
        raise InvalidInput("signal", f"last at most {LONGEST:g} s", f"{len(samples) / rate:.4g} s")


def play(system: DriverSystem, samples: ArrayLike, rate: float) -> Motion:
    """Return the motion under a sampled source voltage, from rest.

    Parameters
    ----------
    system : DriverSystem
    samples : (n,) array
        Wanted source voltage, V; straight between samples, clipped by the amplifier.
    rate : float
        Samples per second, 8 kHz to 192 kHz.

    Returns
    -------
    Motion
        At the samples' instants; it ends early if the coil leaves the known range.

    Notes
    -----
    Classical Runge-Kutta steps of the fourth order, several to a sample where the coil's time
    constant L/R needs it.  An inductance so small that a hundred steps would not do is left out.
    A lossy inductance: see :mod:`motor.driver.lossy_steps`.
    """
    u, system = np.asarray(samples, float), system.at_large_currents
    check_signal(u, rate)
    u = system.amplifier.source(u)
    if system.driver.lossy is not None:
        return play_lossy(system, u, rate)
    system, count = _steps(system, rate)
    states, end = _march(system, u, 1 / rate, count)
    equations = Equations(system)
    state = np.array(states).T
    u = u[: state.shape[1]]
    time = np.arange(state.shape[1]) / rate
    return Motion(
        system,
        time,
        state[0],
        state[1],
        equations.current(state, u),
        state[3],
        state[4],
        equations.pressure(state, equations.rates(state, u)),
        float(time[-1]) if end else None,
    )


def _steps(system: DriverSystem, rate: float) -> tuple[DriverSystem, int]:
    """Return the system and steps to a sample."""
    le = system.driver.instant
    low, high = system.driver.known
    ends = np.linspace(max(low, -0.05), min(high, 0.05), 101)
    least = float(le.value(ends).min())
    if least <= 0:
        return system, 1
    count = math.ceil(system.resistance / least / rate / STABLE)
    if count > 100:
        return system.replace(driver=system.driver.replace(inductance=0.0)), 1
    return system, count


def _march(system: DriverSystem, u: Floats, dt: float, count: int) -> tuple[list[State], bool]:
    """Step through all samples in plain floats; say whether the known range was left."""
    driver, equations = system.driver, Equations(system)
    low, high = driver.known
    low, high = max(low, -0.05), min(high, 0.05)
    grid = np.linspace(low, high, CELLS + 1)
    per_metre = CELLS / (high - low)
    bl, spring = driver.bl.value(grid).tolist(), (driver.k.value(grid) * grid).tolist()
    le, bend = driver.instant.value(grid).tolist(), driver.instant.slope(grid).tolist()
    r, rms, mass, area, soft, leak, port = equations.plain
    inductive = equations.inductive

    def rates(y: State, volt: float) -> State:
        x, v, f, p, q = y
        place = (x - low) * per_metre
        cell = min(max(int(place), 0), CELLS - 1)
        part = place - cell
        b = bl[cell] + part * (bl[cell + 1] - bl[cell])
        k = spring[cell] + part * (spring[cell + 1] - spring[cell])
        extra = df = 0.0
        if inductive:
            i = f / (le[cell] + part * (le[cell + 1] - le[cell]))
            extra = i * i / 2 * (bend[cell] + part * (bend[cell + 1] - bend[cell]))
            df = volt - r * i - b * v
        else:
            i = (volt - b * v) / r
        dv = (b * i + extra - k - rms * v + area * p) / mass
        return v, dv, df, -(area * v + q + leak * p) * soft, p * port

    h = dt / count
    y: State = (0.0, 0.0, 0.0, 0.0, 0.0)
    states = [y]
    for start, end in itertools.pairwise(u.tolist()):
        for step in range(count):
            u0 = start + (end - start) * step / count
            u1 = start + (end - start) * (step + 1) / count
            um = (u0 + u1) / 2
            k1 = rates(y, u0)
            k2 = rates(_along(y, k1, h / 2), um)
            k3 = rates(_along(y, k2, h / 2), um)
            k4 = rates(_along(y, k3, h), u1)
            y = _along(_along(y, k1, h / 6), k4, h / 6)
            y = _along(_along(y, k2, h / 3), k3, h / 3)
        if not low <= y[0] <= high:
            return states, True
        states.append(y)
    return states, False


def _along(y: State, d: State, h: float) -> State:
    """Return y + h d."""
    return (
        y[0] + h * d[0],
        y[1] + h * d[1],
        y[2] + h * d[2],
        y[3] + h * d[3],
        y[4] + h * d[4],
    )
