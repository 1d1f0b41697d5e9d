"""Periodic source voltages: one sine, or two tones over a common base frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.driver.harmonic_balance import Basis
from motor.driver.parts import DriverSystem

__all__ = ["Drive", "sine", "two_tone_drive"]


@dataclass(frozen=True)
class Drive:
    """A periodic source voltage: sines of multiples of a base frequency, all from 0 upwards.

    Parameters
    ----------
    frequency : float
        Base frequency, Hz.
    tones : tuple of (multiple, share)
        Peak voltage of each tone over that of the first.
    """

    frequency: float
    tones: tuple[tuple[int, float], ...] = ((1, 1.0),)

    def coefficients(self, system: DriverSystem, voltage: float, harmonics: int) -> Floats:
        """Return the clipped source's Fourier coefficients; first tone ``voltage`` V r.m.s."""
        real = np.zeros(2 * harmonics + 1)
        for multiple, share in self.tones:
            real[2 * multiple] = math.sqrt(2) * voltage * share
        clip = system.amplifier.clip
        if clip is None or math.sqrt(2) * voltage * sum(abs(s) for _, s in self.tones) <= clip:
            return real
        basis = Basis.of(harmonics)
        clipped: Floats = basis.to_coefficients @ system.amplifier.source(basis.to_time @ real)
        return clipped


def sine(frequency: float) -> Drive:
    """Return the drive of one sine, its frequency in Hz."""
    if not (math.isfinite(frequency) and frequency > 0):
        raise InvalidInput("frequency", "be greater than 0 Hz", frequency)
    return Drive(float(frequency))


def two_tone_drive(low: float, high: float, ratio: float) -> Drive:
    """Return the drive of two tones; the upper's voltage is ``ratio`` times the lower's.

    The upper frequency is moved to the nearest multiple of a quarter of the lower.
    """
    if not (math.isfinite(high) and 0 < low < high):
        raise InvalidInput("tones", "rise and be greater than 0 Hz", f"{low} and {high} Hz")
    part = Fraction(round(4 * high / low), 4)
    if part <= 2 or part > 24:
        raise InvalidInput("tones", "be apart by a factor of 2.25 to 24", f"{high / low:.4g}")
    base = part.denominator
    return Drive(low / base, ((base, 1.0), (part.numerator, ratio)))
