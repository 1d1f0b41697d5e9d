"""A motor taken to a row of temperatures and back: what each costs, there and for good."""

from __future__ import annotations

import dataclasses
import functools
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import Role
from motor.base.arrays import Floats
from motor.base.constants import ZERO_CELSIUS
from motor.base.drawable import DrawablePage
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.design.design import Design
from motor.materials import REFERENCE_TEMPERATURE
from motor.results.demagnetisation import ThermalCycle, thermal_cycle
from motor.results.motor_result import solve

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["TemperatureSweep", "temperature_sweep"]


@dataclass(frozen=True)
class TemperatureSweep(DrawablePage):
    """Thermal cycles from 20 degC to a row of temperatures.

    Parameters
    ----------
    design : Design
    cycles : tuple of ThermalCycle
        In order of temperature.
    worst : tuple of ThermalCycle
        The same with the grades' worst pairs, most remanence and least coercivity; empty where
        the design itself has them or none is known.
    """

    design: Design
    cycles: tuple[ThermalCycle, ...]
    worst: tuple[ThermalCycle, ...] = ()

    @functools.cached_property
    def temperatures(self) -> Floats:
        """Temperatures in kelvin."""
        return np.array([e.temperature for e in self.cycles])

    @property
    def safe_range(self) -> tuple[float, float] | None:
        """The unbroken range around 20 degC, kelvin, in which no magnet passes its knee.

        None if even the temperature nearest to 20 degC is not safe, or no coercivity is known.
        """
        safe = np.array([bool(e.magnets) and e.safe for e in self.cycles])
        start = self.nearest
        if not safe[start]:
            return None
        low = high = start
        while low > 0 and safe[low - 1]:
            low -= 1
        while high < len(safe) - 1 and safe[high + 1]:
            high += 1
        return float(self.temperatures[low]), float(self.temperatures[high])

    @property
    def nearest(self) -> int:
        """Index of the temperature nearest to 20 degC."""
        return int(np.abs(self.temperatures - REFERENCE_TEMPERATURE).argmin())

    @property
    def verdict(self) -> str:
        """The safe range in a few words, of the temperatures that were computed."""
        safe, lost = self.safe_range, 100 * max(e.lost for e in self.cycles)
        if not any(e.magnets for e in self.cycles):
            return "the magnet's coercivity is not known, nor its margin"
        if safe is None:
            degrees = self.temperatures[self.nearest] - ZERO_CELSIUS
            return f"past the knee at {degrees:.4g} degC; up to {lost:.2g} % of Bl lost for good"
        span = f"{safe[0] - ZERO_CELSIUS:.4g} to {safe[1] - ZERO_CELSIUS:.4g} degC"
        rest = f"; elsewhere up to {lost:.2g} % of Bl lost for good"
        whole = len(self.cycles) == sum(e.safe for e in self.cycles)
        return f"short of the knee from {span}" + ("" if whole else rest)

    def rows(self) -> list[dict[str, float | None]]:
        """Return one record per temperature, units in the names."""
        return [
            {
                "temperature_degC": round(e.temperature - ZERO_CELSIUS, 6),
                "bl_at_rest_Tm": e.there.at_rest.value,
                "stroke_82_mm": finite(e.there.stroke(0.82).symmetric.value * 1e3),
                "coil_resistance_ohm": e.resistance,
                "motor_constant_N2_per_W": e.there.at_rest.value**2 / e.resistance,
                "demag_margin_kA_per_m": finite(e.margin / 1e3),
                "demag_margin_uncertainty_kA_per_m": finite(e.margin_uncertainty / 1e3),
                "share_past_knee": max((m.share_past_knee for m in e.magnets), default=0.0),
                "remanence_lost": max((m.loss for m in e.magnets), default=0.0),
                "bl_back_at_20_degC_Tm": e.after.at_rest.value,
                "irreversible_loss_percent": 100 * e.lost,
                "worst_pair_margin_kA_per_m": None if w is None else finite(w.margin / 1e3),
                "worst_pair_irreversible_loss_percent": None if w is None else 100 * w.lost,
            }
            for e, w in itertools.zip_longest(self.cycles, self.worst)
        ]

    def summary(self) -> dict[str, Any]:
        """Return the sweep under names that carry their unit."""
        safe = self.safe_range
        return {
            **origin(),
            "name": self.design.name,
            "safe_range_degC": None if safe is None else [round(t - ZERO_CELSIUS, 6) for t in safe],
            "notes": self.notes,
            "rows": self.rows(),
        }

    @property
    def notes(self) -> list[str]:
        """All warnings, each once."""
        return list(dict.fromkeys(note for e in self.cycles for note in e.notes))


def temperature_sweep(
    design: Design, temperatures: Sequence[float], *, coil_current: float = 0.0
) -> TemperatureSweep:
    """Solve a design at 20 degC and take it to each temperature and back.

    Parameters
    ----------
    design : Design
        Its own temperature is disregarded.
    temperatures : sequence of float
        Kelvin.
    coil_current : float
        Opposing peak current, ampere; see :func:`thermal_cycle`.
    """
    if not len(temperatures):
        raise InvalidInput("temperatures", "hold at least one value", "none")
    design = design.at(REFERENCE_TEMPERATURE)
    worst = design.replace(materials=dataclasses.replace(design.materials, values="worst"))
    grades = [
        [d.materials.magnet_of(r.name) for r in d.regions if r.role is Role.MAGNET]
        for d in (design, worst)
    ]
    bounded = any(grade.intrinsic_coercivity_min for grade in grades[0])

    def cycles(home: MotorResult, what: str) -> tuple[ThermalCycle, ...]:
        made = []
        for k, kelvin in enumerate(sorted(temperatures), 1):
            with step(
                f"{what}{kelvin - ZERO_CELSIUS:.4g} degC and back, {k} of {len(temperatures)}"
            ):
                made.append(thermal_cycle(home, kelvin, coil_current=coil_current))
        return tuple(made)

    home = solve(design)
    found = cycles(home, "to ")
    if not bounded or grades[0] == grades[1]:
        return TemperatureSweep(design, found)
    return TemperatureSweep(design, found, cycles(solve(worst, warm_start=home), "worst pair to "))
