"""Temperatures over time: a programme that starts, stops, or changes its level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.base.errors import SolveError
from motor.design.heat_rules import HeatRules
from motor.field.heat_mesh import COIL, WINDING
from motor.results.heat_model import HeatModel

__all__ = ["HeatHistory", "Programme", "bursts", "noise", "programme_of", "recorded", "warm_up"]

TOLERANCE = 0.05
"""K by which a step may err in the coil's mean, or in any way's mean temperature."""
LONGEST = 3600.0 * 200
"""s of programme taken at most."""
EXACT = 600.0
"""s at either end in which a long recording plays step by step: many time constants of a coil."""
LAG = 12.0
"""s by which a coil lags behind its heat, about."""
NOISE_CREST = 2.0
"""Of the noise of IEC 60268-5: 1.8 to 2.2 (from memory)."""
GAMMA = 1 - 1 / math.sqrt(2)
SHORTEST, FIRST = 1e-6, 0.5
"""Seconds: steps that are not tried any more, and the first after a change."""


@dataclass(frozen=True)
class Programme:
    """A programme's level over time.

    Parameters
    ----------
    kind : str
    shares : (n,) array
        Power in each step over the power asked for.
    step : float
        Length of a step, s.
    cycles : float
        How often the steps are played; infinite to go on.
    peak : float
        Largest peak voltage over the r.m.s. voltage of the power asked for.
    """

    kind: str
    shares: Floats
    step: float
    cycles: float
    peak: float

    def steps(self, duration: float) -> tuple[Floats, Floats]:
        """Return times (n,) in s and shares of power (n - 1,) from each to the next.

        What is repeated without end for long plays step by step in its first and last EXACT
        seconds, at its mean in between.
        """
        if not (math.isfinite(duration) and 0 < duration <= LONGEST):
            wanted = f"be above 0 and at most {LONGEST / 3600:g} h"
            raise InvalidInput("time", wanted, f"{duration / 3600:g} h")
        count = max(math.ceil(duration / self.step - 1e-9), 1)
        times = np.minimum(np.arange(count + 1) * self.step, duration)
        which = np.arange(count)
        playing = which < self.cycles * len(self.shares)
        shares = np.where(playing, self.shares[which % len(self.shares)], 0.0)
        if len(self.shares) > 1 and math.isinf(self.cycles) and duration > 3 * EXACT:
            first = math.ceil(EXACT / self.step)
            last = self._even(max(first, count - first - len(self.shares)), count - first)
            mean = math.ceil((last - first) * self.step / 60.0)
            middle = np.linspace(times[first], times[last], mean + 1)
            times = np.concatenate([times[:first], middle, times[last + 1 :]])
            even = np.full(mean, self.shares.mean())
            shares = np.concatenate([shares[:first], even, shares[last:]])
        return times, shares

    def _even(self, low: int, high: int) -> int:
        """Return the step from low to high before which a coil is most nearly at its mean."""
        keep, level = math.exp(-self.step / LAG), float(self.shares.mean())
        mean, levels = level, []
        for share in np.tile(self.shares, 2):
            level = keep * level + (1 - keep) * float(share)
            levels.append(abs(level - mean))
        count = len(self.shares)
        return min(range(low, high + 1), key=lambda k: levels[count + (k - 1) % count])


def noise(crest: float = NOISE_CREST) -> Programme:
    """Return a lasting noise whose peaks are ``crest`` times its r.m.s. value."""
    if not (math.isfinite(crest) and 1 <= crest <= 100):
        raise InvalidInput("crest factor", "lie between 1 and 100", crest)
    return Programme("noise", np.ones(1), 60.0, math.inf, crest)


def bursts(crest: float = NOISE_CREST) -> Programme:
    """Return ten bursts of noise, a minute each and two minutes apart.

    As for the long-term maximum voltage of IEC 60268-5 (from memory).
    """
    plain = noise(crest)
    shares = np.repeat([1.0, 0.0, 0.0], 6)
    return Programme("bursts", shares, 10.0, 10, plain.peak)


def programme_of(rules: HeatRules) -> Programme:
    """Return what a design's section [heat] lets play."""
    return noise() if rules.programme == "noise" else bursts()


def recorded(samples: Floats, rate: int) -> Programme:
    """Return a recording, repeated without end; its mean power is the power asked for."""
    samples = np.asarray(samples, float)
    size = max(min(rate, len(samples)), 1)
    whole = samples[: len(samples) // size * size].reshape(-1, size)
    power = (whole**2).mean(axis=1)
    mean = float(power.mean())
    if not mean > 0:
        raise InvalidInput("recording", "have some sound", "silence")
    peak = float(np.abs(samples).max()) / math.sqrt(mean)
    return Programme("recording", power / mean, size / rate, math.inf, peak)


@dataclass(frozen=True)
class HeatHistory(Drawable):
    """Temperatures over time: (n,) arrays of s and K.

    Parameters
    ----------
    time : (n,) array
    power : (n,) array
        Programme power in W (coil at 20 degC).
    heat, losses : (n,) array
        In the coil, and of eddy currents in all parts, W.
    coil, coil_hottest, magnet : (n,) array
        Mean and hottest turn of the winding; mean of the warmest magnet.
    level : (n,) array
        Change of level from the coil's resistance, dB, against a coil at ambient.
    stored, lost : float
        J taken up by all bodies, and given to the air, by the end.
    end : (k,) array
        Temperatures at the end in the model's modes, K over ambient.
    name, programme : str
        Of the design, and what was played.
    """

    time: Floats
    power: Floats
    heat: Floats
    losses: Floats
    coil: Floats
    coil_hottest: Floats
    magnet: Floats
    level: Floats
    stored: float
    lost: float
    end: Floats
    name: str = ""
    programme: str = ""


class _Clock:
    """Steps through time that fit themselves.

    The second-order Rosenbrock method ROS2 with an approximate Jacobian (J. G. Verwer, E. J. Spee,
    J. G. Blom and W. Hundsdorfer, SIAM J. Sci. Comput. 20 (1999) 1456), L-stable; its first stage
    alone is of first order and tells the error.
    """

    def __init__(self, model: HeatModel) -> None:
        self.model = model
        reduced = model.reduced
        self._mean = reduced.mean[WINDING]
        self._watch = np.vstack([self._mean, reduced.near_rows])
        self._own = self._scales()
        self._kinds = list(reduced.to_air)
        self.step = FIRST

    def _scales(self) -> Floats:
        """Return for each body the measured capacity that the design gives over the computed."""
        whole, rules = self.model.reduced.whole, self.model.design.heat
        own = sum(c for n, c in whole.items() if n.startswith(COIL))
        motor = sum(whole.values()) - own
        coil = (rules.coil_capacity or own) / own
        rest = (rules.motor_capacity or motor) / motor
        bodies = self.model.reduced.bodies
        return np.array([coil if n == WINDING else rest for n in bodies])

    def _capacity(self, x: Floats) -> Floats:
        """Return the capacities at a state, J/K."""
        warm = 1 + self.model.reduced.capacity_slope * self.model.rises(x)
        return np.asarray(np.tensordot(self._own * warm, self.model.reduced.capacities, 1))

    def stored(self, x: Floats) -> float:
        """Return the heat taken up since all was at ambient, J."""
        reduced = self.model.reduced
        taken = dict.fromkeys(reduced.bodies, 0.0)
        for name, capacity in reduced.whole.items():
            body = WINDING if name.startswith(COIL) else name
            taken[body] += capacity * float(reduced.mean[name] @ x)
        cold = np.array(list(taken.values()))
        middle = self.model.rises(x) - reduced.means @ x / 2
        return float(self._own @ (cold * (1 + reduced.capacity_slope * middle)))

    def restart(self) -> None:
        """Make ready for a change of the programme."""
        self.step = min(self.step, FIRST)

    def advance(self, x: Floats, volts: float, span: float, air: Floats) -> tuple[Floats, float]:
        """Return the state after a span in s, and the heat given to the air in J.

        Raises
        ------
        SolveError
            If no step is short enough.
        """
        left, gone = span, 0.0
        while left > 1e-12 * span:
            h = min(self.step, left)
            k1, slope, lost = self._rates(x, volts)
            capacity = self._capacity(x)
            factor = np.linalg.inv(capacity - GAMMA * h * slope)
            k1 = factor @ k1
            second, _, lost_after = self._rates(x + h * k1, volts)
            second = capacity @ np.linalg.solve(self._capacity(x + h * k1), second)
            k2 = factor @ (second - 2 * (capacity @ k1))
            error = float(np.abs(self._watch @ (h / 2 * (k1 + k2))).max())
            if error <= TOLERANCE * 10:
                x = x + h * (1.5 * k1 + 0.5 * k2)
                left -= h
                gone += h * float((lost + lost_after) @ air @ x) / 2
            elif h < SHORTEST:
                raise SolveError(f"temperatures over time: no step of {h:.1e} s is short enough")
            grow = 0.9 * math.sqrt(TOLERANCE * 10 / max(error, 1e-12))
            if h == self.step or grow < 1:
                self.step = h * min(max(grow, 0.2), 4.0)
        return x, gone

    def _rates(self, x: Floats, volts: float) -> tuple[Floats, Floats, Floats]:
        """Return the heat taken up by each mode in W, its derivative, and the ways to the air."""
        model = self.model
        coefficients = model.coefficients(x)
        matrix = model.matrix(coefficients, x)
        coil = model.ambient + float(self._mean @ x)
        heat, more = model.heats(volts, coil), model.heats(volts, coil + 0.1)
        loads = model.loads(x)
        slope = np.outer((more - heat) / 0.1 @ loads, self._mean) - matrix
        out = np.array([coefficients[kind] for kind in self._kinds])
        return heat @ loads - matrix @ x, slope, out


def warm_up(model: HeatModel, magnet: str, powers: Floats, times: Floats) -> HeatHistory:
    """Return temperatures of a motor, cold at first, under a programme.

    Parameters
    ----------
    model : HeatModel
    magnet : str
        The one to watch.
    powers : (n - 1,) array
        Programme power in W from each time to the next.
    times : (n,) array
        s, rising from 0.

    Raises
    ------
    InvalidInput
        If times do not rise from 0.
    SolveError
        If the integration fails.
    """
    times, powers = np.asarray(times, float), np.asarray(powers, float)
    if len(times) < 2 or times[0] != 0 or not (np.diff(times) > 0).all():
        raise InvalidInput("times", "rise from 0 s", times[:3])
    if len(powers) != len(times) - 1 or not (powers >= 0).all():
        raise InvalidInput("powers", "be 0 W or more, one a time but the first", len(powers))
    reduced = model.reduced
    size = len(reduced.source)
    mean = reduced.mean[WINDING]
    air = np.stack(list(reduced.to_air.values()))
    clock = _Clock(model)
    x, given = np.zeros(size), 0.0
    states, lost = [x], [0.0]
    for k, power in enumerate(powers.tolist()):
        if k and power != powers[k - 1]:
            clock.restart()
        x, gone = clock.advance(x, model.voltage(power), float(times[k + 1] - times[k]), air)
        given += gone
        states.append(x)
        lost.append(given)
    x = np.array(states)
    coil = model.ambient + x @ mean
    now = np.append(powers, powers[-1])
    volts = np.array([model.voltage(float(p)) for p in now])
    more = model.output_resistance
    cold = model.resistance(model.ambient) + more
    warm = np.array([model.resistance(float(t)) for t in coil]) + more
    heats = np.array([model.heats(v, float(t)) for v, t in zip(volts, coil, strict=True)])
    return HeatHistory(
        time=times,
        power=now,
        heat=heats[:, 0],
        losses=heats[:, 1:].sum(axis=1),
        coil=coil,
        coil_hottest=model.ambient + (reduced.watched[WINDING] @ x.T).max(axis=0),
        magnet=model.ambient + x @ reduced.mean[magnet],
        level=20 * np.log10(cold / warm),
        stored=clock.stored(x[-1]),
        lost=lost[-1],
        end=x[-1],
    )
