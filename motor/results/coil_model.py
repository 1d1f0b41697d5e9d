"""The coil's field in few modes: inductance, losses and force at any place and frequency."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import CubicSpline

from geometries.errors import millimetres
from motor.base.arrays import Complexes, Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.design.design import Design
from motor.field.eddy_currents import SKIN, Harmonic
from motor.field.field import FieldOnMesh
from motor.field.minor_loops import share_at
from motor.field.reduced import Span, lagging, modes
from motor.results.at_coil import AT_COIL
from motor.results.coil_map import usual_current
from motor.results.impedance import (
    COARSER,
    HIGHEST,
    equations,
    linkage_errors,
    material_spreads,
)
from motor.results.lossy_inductance import LossyFit, lossy_fits
from motor.results.parallel_parts import linkage_of, loads_at, loads_of, one_current

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["RATES", "CoilModel", "LoudModes", "Modes", "coil_model", "coil_modes", "loud_modes"]

RATES = tuple(2 * np.pi * f for f in (8.0, 25.0, 80.0, 250.0, 800.0, 2.5e3, 8e3, 2.5e4, 8e4))
"""Rates of growth whose fields the modes span, 1/s."""
STILL, EVERY, TURNS = 49, 8, 2
"""Places of the coil whose steady fields the modes span; one of EVERY for those growing at a rate,
at rates in turn not the same ones: TURNS kinds."""
BETWEEN = 4
"""One of so many gaps between places is probed for what the modes miss."""
SHARE = 1e-7
"""Energy that the modes may leave out, over that of each field."""
LOWEST = 10.0
"""Hertz, from which fewer modes agree with all."""
LOUD, LOUD_AT, LOUD_TO = 0.5, 100.0, 5e3
"""Share of the usual current, and hertz, for which steel at large currents is taken; hertz up to
which its skin is resolved."""
PROBED = (40.0, 4e3, 16e3)
"""Hertz, at which modes are compared with the whole equations."""


@dataclass(frozen=True)
class Modes:
    """Modes of the field, and how the coil couples to them over its travel.

    Parameters
    ----------
    time_constant : (k,) array
        Seconds, rising from 0.
    position : (m,) array
        Displacements from rest in metres, rising.
    coupling : (m, k) array
        Square root of henry: flux linkage of a mode, and what drives it, per ampere.
    """

    time_constant: Floats
    position: Floats
    coupling: Floats

    @functools.cached_property
    def _spline(self) -> CubicSpline:
        return CubicSpline(self.position, self.coupling)

    def coupling_at(self, x: Floats, derivative: int = 0) -> Floats:
        """Return the couplings at displacements in metres, or their slope: array (..., k)."""
        return np.asarray(self._spline(x, derivative))

    def fewer(self, tolerance: float) -> tuple[Floats, Floats, Floats]:
        """Return fewer modes, all lagging, and what follows at once: (r,), (m, r), (m,).

        Inductance and losses from LOWEST to HIGHEST change by less than the relative tolerance.
        """
        frequency = np.geomspace(LOWEST, HIGHEST, 25)
        return lagging(self.time_constant, self.coupling, frequency, tolerance)

    def answers(self, x: Floats, frequency: Floats) -> Complexes:
        """Return what each mode answers to 1 A: array (frequency, position, k)."""
        omega = 2 * np.pi * np.asarray(frequency, float)[:, None, None]
        return np.asarray(self.coupling_at(x) / (1 + 1j * omega * self.time_constant))

    def linkage(self, x: Floats, frequency: Floats) -> Complexes:
        """Return flux linkage over current in henry: array (frequency, position)."""
        return np.asarray((self.coupling_at(x) * self.answers(x, frequency)).sum(axis=-1))


@dataclass(frozen=True)
class LoudModes:
    """A coil's field at large currents, whose steel is partly along its magnetising curve.

    Parameters
    ----------
    current, frequency : float
        Ampere (peak) and hertz at which the steel is as permeable as here.
    share : float
        Of the reversible reluctivity's excess over the curve's, weighed by energy: 1 at small
        currents.
    modes, curve : Modes
        With that share, and with none: steel along its magnetising curve.
    """

    current: float
    frequency: float
    share: float
    modes: Modes
    curve: Modes


@dataclass(frozen=True)
class CoilModel:
    """A coil's field in its motor at small currents, in modes.

    Parameters
    ----------
    name : str
        Of the design.
    coil_resistance : float
        The winding's own, ohm.
    modes : Modes
    coarser : Modes or None
        The same from the coarser mesh, for the uncertainty; None if there is none.
    misfit : float
        Relative error of the modes against the whole equations: the largest found half-way
        between the places that they were made from, at PROBED.
    stiffness_spread, mass_spread : (p, k, k) and (q, k, k) arrays
        Half the change of the modes' stiffness (1) and time constants (s) over each material's
        spread.
    """

    name: str
    coil_resistance: float
    modes: Modes
    coarser: Modes | None
    misfit: float
    stiffness_spread: Floats
    mass_spread: Floats

    def inductance(self, x: Floats, frequency: Floats) -> Floats:
        """Return L in henry at displacements (m) and frequencies (Hz): (frequency, position)."""
        return self.modes.linkage(*self._asked(x, frequency)).real

    def eddy_resistance(self, x: Floats, frequency: Floats) -> Floats:
        """Return what eddy currents add to the resistance, ohm: array (frequency, position)."""
        x, f = self._asked(x, frequency)
        return np.asarray(-2 * np.pi * f[:, None] * self.modes.linkage(x, f).imag)

    def uncertainty(self, x: Floats, frequency: Floats) -> tuple[Floats, Floats]:
        """Return the numerical uncertainty of both: henry and ohm, nan without a second mesh."""
        x, f = self._asked(x, frequency)
        value = self.modes.linkage(x, f)
        other = np.full_like(value, np.nan) if self.coarser is None else self.coarser.linkage(x, f)
        real, imaginary = linkage_errors(value, value - other)
        real = np.hypot(real, self.misfit * value.real)
        imaginary = np.hypot(imaginary, self.misfit * value.imag)
        return real, 2 * np.pi * f[:, None] * imaginary

    def material_uncertainty(self, x: Floats, frequency: Floats) -> tuple[Floats, Floats]:
        """Return what materials' spreads make of both, to first order: henry and ohm."""
        x, f = self._asked(x, frequency)
        a, omega = self.modes.answers(x, f), 2 * np.pi * f[:, None]
        by_steel = np.einsum("fxj,pjk,fxk->pfx", a, self.stiffness_spread, a, optimize=True)
        by_mass = np.einsum("fxj,pjk,fxk->pfx", a, self.mass_spread, a, optimize=True)
        parts = np.concatenate([by_steel, 1j * omega * by_mass])
        real, imaginary = (np.sqrt((part**2).sum(axis=0)) for part in (parts.real, parts.imag))
        return real, omega * imaginary

    def force(self, x: float, current: float, state: Floats) -> float:
        """Return the reluctance force in newton, outwards, at a current and the modes' state.

        Parameters
        ----------
        x : float
            Displacement from rest, metres.
        current : float
            Ampere.
        state : (k,) array
            a_j in square roots of joule; at rest c_j(x) times the current.
        """
        return float(current * (self.modes.coupling_at(np.array(x), 1) @ state))

    def fits(self, x: float = 0.0) -> list[LossyFit]:
        """Return the classical short forms fitted at a displacement in metres, 20 Hz to HIGHEST."""
        frequency = np.geomspace(20.0, HIGHEST, 40)
        linkage = self.modes.linkage(*self._asked(np.array(x), frequency))[:, 0]
        return lossy_fits(frequency, 2j * np.pi * frequency * linkage)

    def rows(self) -> list[dict[str, float]]:
        """Return one record per mode and displacement, units in the names."""
        return [
            {
                "mode": float(j),
                "time_constant_s": float(tau),
                "displacement_mm": float(x) * 1e3,
                "coupling_sqrt_H": float(self.modes.coupling[i, j]),
            }
            for j, tau in enumerate(self.modes.time_constant)
            for i, x in enumerate(self.modes.position)
        ]

    def _asked(self, x: Floats, frequency: Floats) -> tuple[Floats, Floats]:
        x, f = (np.atleast_1d(np.asarray(v, float)) for v in (x, frequency))
        low, high = self.modes.position[[0, -1]]
        slack = 1e-9
        if not ((x >= low - slack) & (x <= high + slack)).all():
            wanted = f"lie within the coil's travel, {millimetres(low)} to {millimetres(high)}"
            raise InvalidInput("position", wanted, ", ".join(map(millimetres, x)))
        if not ((f >= 0) & (f <= HIGHEST)).all():
            received = ", ".join(f"{k:g} Hz" for k in f)
            raise InvalidInput("frequency", f"lie between 0 and {HIGHEST:g} Hz", received)
        return x, f

    def summary(self) -> dict[str, Any]:
        """Return the record under names that carry their unit.

        a_j + tau_j da_j/dt = c_j(x) i; the flux linkage is the sum of c_j(x) a_j.
        """
        return {
            **origin(),
            "design": self.name,
            "coil_resistance_ohm": self.coil_resistance,
            "misfit": finite(self.misfit),
            "time_constant_s": self.modes.time_constant.tolist(),
            "displacement_mm": (self.modes.position * 1e3).tolist(),
            "coupling_sqrt_H": self.modes.coupling.tolist(),
            "fits_at_rest": [fit.summary() for fit in self.fits()],
        }

    def spice_subcircuit(self, x: float = 0.0, name: str = "coil") -> str:
        """Return the blocked coil at a displacement in metres as a sub-circuit, ports plus, minus.

        A resistor and a chain of inductors, each with a resistor across it.
        """
        coupling = self.modes.coupling_at(self._asked(np.array(x), np.zeros(1))[0])[0]
        lines = [
            f"* {self.name}: coil blocked at {millimetres(x)}",
            f".subckt {name} plus minus",
            f"R0 plus n0 {self.coil_resistance:.10g}",
        ]
        henry, times = coupling**2, self.modes.time_constant
        small = henry < 1e-9 * henry.sum()
        shorted = (times <= 0) & ~small
        links = [(float(henry[shorted].sum()), 0.0)] if shorted.any() else []
        links += [
            (float(value), float(tau))
            for value, tau in zip(henry[~shorted & ~small], times[~shorted & ~small], strict=True)
        ]
        for k, (value, tau) in enumerate(links):
            ends = f"n{k} {'minus' if k == len(links) - 1 else f'n{k + 1}'}"
            lines.append(f"L{k + 1} {ends} {value:.10g}")
            if tau > 0:
                lines.append(f"R{k + 1} {ends} {value / tau:.10g}")
        return "\n".join([*lines, f".ends {name}", ""])


@one_blas_thread()
def coil_model(result: MotorResult, permeability: str = "reversible") -> CoilModel:
    """Return a motor's coil in modes, for its whole travel and up to HIGHEST.

    Parameters
    ----------
    result : MotorResult
    permeability : str
        See :func:`motor.results.impedance.blocked_impedance`.

    Raises
    ------
    InvalidInput
        If the permeability is unknown.
    SolveError
    """
    field = result.field
    with step("the coil's field in modes") as now:
        found, span, whole = _made(result, field.fine, permeability, 1.0)
        misfit, v = _misfit(found, whole, result.design), span.vectors
        spreads = [
            np.array([v.T @ (m @ v) for m in kind]).reshape(-1, *[v.shape[1]] * 2)
            for kind in material_spreads(result.design, whole)
        ]
        coarser = None
        if field.coarse is not field.fine:
            coarser, _, _ = _made(result, field.coarse, permeability, COARSER)
        now.detail = f"{len(found.time_constant)} modes, {misfit:.1e}"
    return CoilModel(
        result.design.name, result.resistance, found, coarser, misfit, spreads[0], spreads[1]
    )


@one_blas_thread()
def coil_modes(result: MotorResult, permeability: str = "reversible") -> Modes:
    """Return the modes of :func:`coil_model` alone, without what they may be wrong by."""
    with step("the coil's field in modes") as now:
        found, _, whole = _made(result, result.field.fine, permeability, 1.0)
        now.detail = f"{len(found.time_constant)} modes of {whole.unknowns} unknowns"
    return found


@one_blas_thread()
def loud_modes(
    result: MotorResult, current: float | None = None, frequency: float = LOUD_AT
) -> LoudModes:
    """Return a motor's coil in modes at a large current; see :mod:`motor.field.minor_loops`.

    On the coarser mesh: what is open in the steel is far more than what that misses.

    Parameters
    ----------
    result : MotorResult
    current : float or None
        Ampere, peak; None for LOUD of :func:`motor.results.coil_map.usual_current`.
    frequency : float
        Hertz.

    Raises
    ------
    SolveError
    """
    coil = result.design.coil
    amperes = LOUD * usual_current(coil) if current is None else current
    with step("the coil's field at a large current") as now:
        low, high = result.bl_curve.x[[0, -1]]
        x = np.linspace(low, high, STILL)
        whole = equations(
            result, result.field.coarse, x, LOUD_TO, "slope", COARSER * SKIN, COARSER * AT_COIL
        )
        load = amperes * loads_at(whole.level, coil, x[[int(np.abs(x).argmin())]])[:, 0]
        local, share = share_at(whole, load, frequency)
        rates = [rate for rate in RATES if rate <= 2 * np.pi * 2 * LOUD_TO]
        pair = (whole.with_share(local), whole)
        found = [_spanned(one, x, result.design, rates)[0] for one in pair]
        now.detail = f"share {share:.2f} at {amperes:g} A"
    return LoudModes(amperes, frequency, share, *found)


def _made(
    result: MotorResult, about: FieldOnMesh, permeability: str, coarser: float
) -> tuple[Modes, Span, Harmonic]:
    """Return modes about a solved field, as sums of fields too, and the equations behind them."""
    low, high = result.bl_curve.x[[0, -1]]
    x = np.linspace(low, high, STILL)
    whole = equations(result, about, x, HIGHEST, permeability, coarser * SKIN, coarser * AT_COIL)
    return *_spanned(whole, x, result.design, RATES), whole


def _spanned(
    whole: Harmonic, x: Floats, design: Design, rates: Sequence[float]
) -> tuple[Modes, Span]:
    """Return the modes that a coil at places in metres spans, as sums of fields too."""
    loads = loads_of(whole.level, design.coil, x)
    driven = [(0.0, loads)] + [
        (rate, loads[..., EVERY * k // TURNS % EVERY :: EVERY]) for k, rate in enumerate(rates)
    ]
    span = modes(whole, [(s, part.reshape(len(part), -1)) for s, part in driven], SHARE)
    coupling = span.coupling(loads)
    if loads.ndim == 3:
        apart = coupling.swapaxes(1, 2)
        coupling = one_current(design.coil, design.temperature, span.times, apart)
    return Modes(span.times, x, coupling), span


def _misfit(found: Modes, whole: Harmonic, design: Design) -> float:
    """Return the largest relative error of modes half-way between their places."""
    x = found.position
    between = (x[BETWEEN // 2 : -1 : BETWEEN] + x[BETWEEN // 2 + 1 :: BETWEEN]) / 2
    probes, misfit = loads_of(whole.level, design.coil, between), 0.0
    for frequency in PROBED:
        exact, _ = linkage_of(design.coil, design.temperature, whole, probes, frequency)
        error = found.linkage(between, np.array([frequency]))[0] - exact
        for part in (np.real, np.imag):
            if part(exact).any():
                misfit = max(misfit, float(np.max(np.abs(part(error) / part(exact)))))
    return misfit
