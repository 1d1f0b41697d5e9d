"""How a programme's power spreads over frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometries import InvalidInput
from motor.base.arrays import Floats

__all__ = ["HIGHEST", "LOWEST", "Spectrum", "programme_spectrum", "spectrum_of"]

LOWEST, HIGHEST = 20.0, 20e3
"""Hz: the range of any spectrum."""
BANDS = 1000.0 * 10.0 ** (np.arange(-17, 14) / 10)
"""Hz: exact middles of third octaves from 20 Hz to 20 kHz (IEC 61260-1)."""
LOW_END = (-13.5, -10.2, -7.4, -5.2, -3.5, -2.3, -1.4, -0.9, -0.5, -0.2, -0.1)
HIGH_END = (-0.1, -0.3, -0.6, -1.0, -1.6, -2.5, -3.7, -5.1, -7.0, -9.0, -11.4, -13.9, -16.7, -19.7)
SIMULATED = (*LOW_END, *[0.0] * 6, *HIGH_END)
"""dB in each of BANDS: noise that simulates programme material, IEC 60268-1 (from memory)."""


@dataclass(frozen=True)
class Spectrum:
    """Shares of a programme's mean square voltage.

    Parameters
    ----------
    frequency : (n,) array
        Hz.
    share : (n,) array
        Sums to 1.
    """

    frequency: Floats
    share: Floats


def _between(power: Floats, low: float, high: float) -> Spectrum:
    """Return the part of a power in third octaves that lies between two frequencies."""
    edge = 10.0**0.05
    inside = np.minimum(high, BANDS * edge) / np.maximum(low, BANDS / edge)
    kept = power * np.clip(np.log10(inside) / 0.1, 0.0, 1.0)
    here = kept > 1e-6 * kept.max(initial=1e-300)
    if not here.any():
        raise InvalidInput("recording", f"have some sound from {low:g} to {high:g} Hz", "none")
    return Spectrum(np.clip(BANDS[here], low, high), kept[here] / kept[here].sum())


def _check(low: float, high: float) -> None:
    if not LOWEST <= low <= high <= HIGHEST:
        wanted = f"rise from {LOWEST:g} to {HIGHEST:g} Hz at most"
        raise InvalidInput("lowest and highest frequency", wanted, f"{low:g} and {high:g} Hz")


def programme_spectrum(low: float = LOWEST, high: float = HIGHEST) -> Spectrum:
    """Return noise that simulates programme material between two frequencies; a sine if equal.

    IEC 60268-1 (from memory) in third octaves.
    """
    _check(low, high)
    if high == low:
        return Spectrum(np.array([low]), np.ones(1))
    return _between(10.0 ** (np.array(SIMULATED) / 10), low, high)


def spectrum_of(
    samples: Floats, rate: float, low: float = LOWEST, high: float = HIGHEST
) -> Spectrum:
    """Return a recording's spectrum between two frequencies in third octaves; rate in Hz."""
    _check(low, high)
    power = np.abs(np.fft.rfft(np.asarray(samples, float))) ** 2
    frequency = np.fft.rfftfreq(len(samples), 1 / rate)
    band = np.floor(10 * np.log10(np.maximum(frequency, 1e-9) / 1000.0) + 17.5).astype(int)
    inside = (band >= 0) & (band < len(BANDS)) & (frequency >= low) & (frequency <= high)
    found = np.bincount(band[inside], power[inside], len(BANDS))
    if not (math.isfinite(found.sum()) and found.sum() > 0):
        raise InvalidInput("recording", f"have some sound from {low:g} to {high:g} Hz", "none")
    return Spectrum(BANDS[found > 0], found[found > 0] / found.sum())
