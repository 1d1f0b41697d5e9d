"""Box suggestions: the classic sealed and vented alignments of a driver."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from geometries import InvalidInput
from motor.design.enclosure import Box
from motor.driver.small_signal import SmallSignal

__all__ = ["Alignment", "sealed_alignments", "vented_alignment"]

SEALED = (
    ("critically damped", 0.5),
    ("flattest delay", 1 / math.sqrt(3)),
    ("flattest response", 1 / math.sqrt(2)),
    ("boosted, Qtc 1", 1.0),
)
BUTTERWORTH = 1 / math.sqrt(4 + 2 * math.sqrt(2))
"""Qts, 0.383, at which the lossless vented response is the fourth-order Butterworth one."""


@dataclass(frozen=True)
class Alignment:
    """A box for a driver.

    Parameters
    ----------
    name : str
    box : Box
        Without leaks for sealed, with the usual ones for vented.
    cutoff : float
        Frequency of -3 dB of the lossless response in Hz.
    remark : str
    """

    name: str
    box: Box
    cutoff: float
    remark: str = ""


def sealed_alignments(parts: SmallSignal) -> list[Alignment]:
    """Return the sealed boxes of the classic total Q (Small 1972): alpha = (Qtc/Qts)^2 - 1.

    Those that would need a negative volume (Qts too large) are left out.
    """
    found = []
    for name, total in SEALED:
        alpha = (total / parts.qts) ** 2 - 1
        if alpha <= 0:
            continue
        resonance = parts.fs * math.sqrt(1 + alpha)
        part = 1 / total**2 - 2
        cutoff = resonance * math.sqrt((part + math.sqrt(part**2 + 4)) / 2)
        box = Box(volume=parts.vas / alpha)
        found.append(Alignment(name, box, cutoff, f"Qtc {total:.3f}, resonance {resonance:.1f} Hz"))
    return found


def vented_alignment(parts: SmallSignal) -> Alignment:
    """Return the vented box that Qts asks for (Thiele 1971, Small 1973), reckoned without losses.

    Below Qts 0.383 the quasi-Butterworth of third order, above it the Chebyshev response, whose
    poles are those of the Butterworth response with their real parts scaled down.

    Raises
    ------
    InvalidInput
        If Qts is too large for any of them.
    """
    qt = parts.qts
    if qt <= BUTTERWORTH:
        a2 = math.sqrt(2 / qt**2 - 2)
        h = 1 / (2 * qt**2 * a2)
        a1, a3 = 1 / (qt * math.sqrt(h)), math.sqrt(h) / qt
        name = "quasi-Butterworth"
    else:
        a1, a2, a3 = _chebyshev(qt)
        h = a3 / a1
        name = "Chebyshev"
    alpha = a2 * h - 1 - h**2
    if not alpha > 0:
        raise InvalidInput("Qts", "be small enough for a vented box", f"{qt:.3f}")
    tuning = h * parts.fs
    cutoff = _cutoff((a1, a2, a3)) * parts.fs * math.sqrt(h)
    box = Box(volume=parts.vas / alpha, tuning=tuning)
    return Alignment(name, box, cutoff, f"alpha {alpha:.3f}, fb/fs {h:.3f}")


def _coefficients(k: float) -> tuple[float, float, float]:
    """Return a1, a2, a3 of s^4 + a1 s^3 + a2 s^2 + a3 s + 1 for poles scaled by k, inverted."""
    angles = (math.pi / 8, 3 * math.pi / 8)
    pairs = []
    for angle in angles:
        pole = 1 / complex(-k * math.sin(angle), math.cos(angle))
        pairs.append((-2 * pole.real, abs(pole) ** 2))
    (b1, c1), (b2, c2) = pairs
    scale = (c1 * c2) ** 0.25
    a1, a2, a3 = b1 + b2, c1 + c2 + b1 * b2, b1 * c2 + b2 * c1
    return a1 / scale, a2 / scale**2, a3 / scale**3


def _chebyshev(qt: float) -> tuple[float, float, float]:
    def excess(k: float) -> float:
        a1, _, a3 = _coefficients(k)
        return 1 / math.sqrt(a1 * a3) - qt

    if excess(0.05) < 0:
        raise InvalidInput("Qts", "be small enough for a vented box", f"{qt:.3f}")
    return _coefficients(float(brentq(excess, 0.05, 1.0)))


def _cutoff(a: tuple[float, float, float]) -> float:
    """Return the highest frequency of -3 dB of the fourth-order response, normalised."""

    def size(w: float) -> float:
        s = complex(0, w)
        return abs(s**4 / (s**4 + a[0] * s**3 + a[1] * s**2 + a[2] * s + 1)) - math.sqrt(0.5)

    high = 4.0
    while size(high) < 0:
        high *= 2
    while size(high * 0.98) > 0 and high > 0.05:
        high *= 0.98
    return float(brentq(size, high * 0.98, high))
