"""A thermal cycle, 20 degC to a temperature and back: what it costs there, and for good."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motor.base.arrays import Floats
from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.field.field import FieldOnMesh
from motor.materials import REFERENCE_TEMPERATURE
from motor.results.bl import BlCurve
from motor.results.loaded import coil_load
from motor.results.magnet_state import (
    Conditions,
    MagnetHealth,
    levels_of,
    magnet_health,
    settle,
    with_shares,
)
from motor.results.motor_result import read_off

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["ThermalCycle", "thermal_cycle"]


@dataclass(frozen=True)
class ThermalCycle:
    """A thermal cycle from 20 degC to another temperature and back.

    Parameters
    ----------
    temperature : float
        Kelvin.
    resistance : float
        Of the coil there, ohm.
    there : BlCurve
        Bl at that temperature.
    after : BlCurve
        Bl back at 20 degC.
    lost : float
        Share of Bl at rest, back at 20 degC, that is lost for good.
    magnets : tuple of MagnetHealth
        Empty if no coercivity is known.
    notes : tuple of str
        Warnings about published ranges.
    """

    temperature: float
    resistance: float
    there: BlCurve
    after: BlCurve
    lost: float
    magnets: tuple[MagnetHealth, ...]
    notes: tuple[str, ...] = ()

    @property
    def margin(self) -> float:
        """Least margin of all magnets in A/m; infinite if none is known."""
        return min((m.margin for m in self.magnets), default=float("inf"))

    @property
    def margin_uncertainty(self) -> float:
        """Numerical uncertainty of the margin in A/m; nan if none is known."""
        return min(self.magnets, key=lambda m: m.margin).uncertainty if self.magnets else math.nan

    @property
    def safe(self) -> bool:
        """Whether every magnet stays short of its knee."""
        return self.margin > 0


def thermal_cycle(
    result: MotorResult, temperature: float, *, coil_current: float = 0.0
) -> ThermalCycle:
    """Take a solved motor from 20 degC to a temperature and back.

    Parameters
    ----------
    result : MotorResult
        Solved at 20 degC.
    temperature : float
        Kelvin, of magnets and coil.
    coil_current : float
        Peak current in ampere that opposes the magnets at that temperature, for instance of a
        clipping amplifier; 0 for none.  Both signs are tried at rest, the worse one is kept.

    Raises
    ------
    InvalidInput
        If the result is not at 20 degC, or the temperature is past a Curie temperature.
    SolveError
    """
    design = result.design
    if abs(design.temperature - REFERENCE_TEMPERATURE) > 1e-6 or design.materials.temperatures:
        raise InvalidInput(
            "temperature of the design",
            "be 20 degC, where the thermal cycle starts",
            f"{design.temperature - ZERO_CELSIUS:.4g} degC",
        )
    cycles = [
        _cycle(result, temperature, current)
        for current in ([coil_current, -coil_current] if coil_current else [0.0])
    ]
    return min(cycles, key=lambda cycle: (cycle.after.at_rest.value, cycle.margin))


def _cycle(result: MotorResult, temperature: float, current: float) -> ThermalCycle:
    design, field = result.design, result.field
    grades = {name: design.materials.magnet_of(name) for name in field.fine.system.magnets}
    curves = {name: grade.curve_at(temperature) for name, grade in grades.items()}
    limits = curves if design.materials.demagnetisation == "included" else dict.fromkeys(curves)
    warmth = {name: g.remanence_at(temperature) / g.remanence for name, g in grades.items()}
    there, idle, home = [], [], []
    for level in levels_of(field):
        load = None
        if current:
            turns = design.coil.turns_in_series * current
            load = coil_load(level, design.coil, design.coil.rest_position, turns)
        context = Conditions(level, limits, warmth, load, level.system.shares)
        warm, shares = settle(context)
        quiet = replace(context, coil=None)
        there.append(warm)
        idle.append(with_shares(quiet, warm, shares, warm=True) if current else warm)
        kept = all(np.array_equal(share, _before(level, name)) for name, share in shares.items())
        home.append(level if kept else with_shares(quiet, level, shares, warm=False))
    hot, still, back = (
        replace(field, fine=levels[0], coarse=levels[-1]) for levels in (there, idle, home)
    )
    after = read_off(design, back).bl_curve
    whole = result.bl_curve.at_rest.value / (1 - result.irreversible_loss.value)
    return ThermalCycle(
        temperature=temperature,
        resistance=design.coil.resistance(temperature),
        there=read_off(design, still).bl_curve,
        after=after,
        lost=max(0.0, 1 - after.at_rest.value / whole),
        magnets=magnet_health(hot, curves),
        notes=tuple(
            dict.fromkeys(filter(None, (g.range_note(temperature) for g in grades.values())))
        ),
    )


def _before(level: FieldOnMesh, region: str) -> Floats:
    """Return the shares that a magnet's triangles had left before the cycle."""
    here = level.system.mesh.triangles_of(region)
    return np.broadcast_to(level.system.shares.get(region, 1.0), here.shape)
