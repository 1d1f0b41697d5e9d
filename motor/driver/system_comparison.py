"""Two or more systems side by side: what each gives in the same test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from motor.base.arrays import Floats
from motor.base.drawable import DrawablePage
from motor.driver.distortion import (
    CleanLimit,
    CleanLimits,
    DistortionMap,
    clean_limits,
    clean_stroke,
    distortion_map,
)
from motor.driver.finding import Finding
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import Response, SmallSignal, response, small_signal
from motor.driver.steady import SteadyState, two_tones
from motor.driver.thermal_network import ThermalNetwork

__all__ = ["Candidate", "Comparison", "compare", "equal_loudness"]

RESPONSE_FROM, RESPONSE_TO, RESPONSE_POINTS = 10.0, 1000.0, 300
VOICE_RATIO = 8.5
"""Upper over lower tone of the modulation test (IEC 62458 family: fs and 8.5 fs)."""


@dataclass(frozen=True)
class Candidate:
    """Everything that a comparison shows of one system.

    Parameters
    ----------
    system : DriverSystem
    parts : SmallSignal
    voltage : float
        Source level of its tests, V r.m.s.
    response : Response
        At that voltage.
    map : DistortionMap
        One level.
    tones : SteadyState or None
        Two tones at the bass frequency and 8.5 times it.
    clean : CleanLimits
    stroke : CleanLimit
        Travel at 10 % distortion and resonance, in this box.
    findings : tuple of Finding
    """

    system: DriverSystem
    parts: SmallSignal
    voltage: float
    response: Response
    map: DistortionMap
    tones: SteadyState | None
    clean: CleanLimits
    stroke: CleanLimit
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """The driver's name."""
        return self.system.driver.name

    def row(self) -> dict[str, Any]:
        """Return the figures under names that carry their unit; None for what does not exist."""
        parts, tones = self.parts, self.tones
        thd = [row[0].thd for row in self.map.states if row[0] is not None]
        return {
            "name": self.name,
            "fs_Hz": parts.fs,
            "qts": parts.qts,
            "bl_Tm": parts.bl,
            "moving_mass_g": parts.mms * 1e3,
            "resistance_ohm": parts.re,
            "level_2.83V_dB": parts.level_283,
            "voltage_V": self.voltage,
            "mean_thd": float(np.mean(thd)) if len(thd) == len(self.map.states) else None,
            "worst_thd": max(thd) if len(thd) == len(self.map.states) else None,
            "modulation_second": None if tones is None else tones.modulation(2),
            "modulation_third": None if tones is None else tones.modulation(3),
            "stroke_at_10_percent_mm": self.stroke.peak * 1e3,
            "stroke_limited_by": self.stroke.limited_by,
            "mean_clean_level_dB": float(np.mean(self.clean.level)),
        }


@dataclass(frozen=True)
class Comparison(DrawablePage):
    """Systems under the same tests.

    Parameters
    ----------
    candidates : tuple of Candidate
    bass : float
        Lower tone of the modulation test, Hz.
    title : str
    """

    candidates: tuple[Candidate, ...]
    bass: float
    title: str

    @property
    def frequency(self) -> Floats:
        """Frequencies of the distortion curves, Hz."""
        return self.candidates[0].map.frequency


def equal_loudness(
    systems: Sequence[DriverSystem], frequency: float, voltage: float
) -> list[float]:
    """Return source voltages at which all are as loud as the first at its voltage.

    Reckoned with the linear response at one frequency in Hz; V r.m.s.
    """
    pressures = [float(abs(response(s, frequency, voltage).pressure[0])) for s in systems]
    return [voltage * pressures[0] / pressure for pressure in pressures]


def compare(
    systems: Sequence[DriverSystem],
    *,
    frequency: ArrayLike,
    voltage: float | Sequence[float],
    bass: float,
    distortion: float = 0.1,
    heat: Sequence[ThermalNetwork | None] | None = None,
    title: str = "",
) -> Comparison:
    """Put systems through the same tests.

    Parameters
    ----------
    systems : sequence of DriverSystem
    frequency : (n,) array
        Of the distortion curves and of the clean levels, Hz.
    voltage : float or sequence of float
        Source voltage of the distortion curves, V r.m.s., for all or one for each system;
        :func:`equal_loudness` gives voltages at which all are equally loud.
    bass : float
        Lower tone of the modulation test in Hz, at the same voltage; the upper is 8.5 times it.
    distortion : float
        What counts as clean, a share.
    heat : sequence of ThermalNetwork or None
        One for each system, to respect the wire's class.
    title : str
    """
    networks = heat or [None] * len(systems)
    grid = np.geomspace(RESPONSE_FROM, RESPONSE_TO, RESPONSE_POINTS)
    found = []
    given = list(voltage) if isinstance(voltage, Sequence) else [voltage] * len(systems)
    for system, network, volts in zip(systems, networks, given, strict=True):
        curves = distortion_map(system, frequency, [volts])
        tones, seen = two_tones(system, bass, VOICE_RATIO * bass, volts)
        found.append(
            Candidate(
                system,
                small_signal(system.driver),
                volts,
                response(system, grid, volts),
                curves,
                tones,
                clean_limits(system, frequency, distortion=distortion, heat=network),
                clean_stroke(system, distortion=distortion),
                (*curves.findings, *seen),
            )
        )
    return Comparison(tuple(found), bass, title)
