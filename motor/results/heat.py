"""A motor at work: how warm coil and magnets get, what that costs, and the power they bear.

The programme's heat flows through the section of the motor; resistance, remanence and coercivity
follow.  Heat of the coil, and of eddy currents in steel and rings where the design includes them.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass, replace

import numpy as np

from geometries import InvalidInput, Role
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.constants import ZERO_CELSIUS
from motor.base.drawable import Drawable
from motor.base.steps import step
from motor.design.design import Design
from motor.field.field import Estimate
from motor.field.heat_mesh import WINDING
from motor.results.heat_cautions import bearable, passed
from motor.results.heat_limits import (
    CHARRED,
    MOST_POWER,
    HeatLimit,
    allowed,
    band_of,
    borne,
    hottest_of,
    limits_of,
    mean_of,
    temperature_of,
)
from motor.results.heat_model import HeatModel, Settled
from motor.results.heat_network import TimeConstants, TwoBodies, time_constants, two_bodies
from motor.results.heat_settled import settled_models
from motor.results.heat_time import HeatHistory, Programme, programme_of, warm_up
from motor.results.motor_result import MotorResult, solve
from motor.results.result_notes import magnet_notes
from motor.results.spectrum import Spectrum

__all__ = ["Warmth", "heat"]

CHANGE, FLOOR = 1.0, 0.002
"""Numerical uncertainty of a rise: CHANGE times its change between the meshes, and FLOOR of it."""
FLOOR_LOSSES = 0.005
"""The same share of the heat of eddy currents."""


@dataclass(frozen=True)
class Warmth(Drawable):
    """A motor where a programme settles.  Temperatures are kelvin.

    Parameters
    ----------
    result : MotorResult
        As designed.
    power : float
        Programme power that the same voltage would give in the coil at 20 degC, W.
    model, coarse : HeatModel
        On the finer and the coarser mesh.
    settled, settled_coarse : Settled
    warm : MotorResult
        With each part as warm as it gets.
    displacement : float
        R.m.s. travel that heat was averaged over, m.
    """

    result: MotorResult
    power: float
    model: HeatModel
    coarse: HeatModel
    settled: Settled
    settled_coarse: Settled
    warm: MotorResult
    displacement: float

    @property
    def design(self) -> Design:
        """The design."""
        return self.result.design

    @functools.cached_property
    def magnets(self) -> list[str]:
        """Names of the magnets."""
        return [r.name for r in self.design.regions if r.role is Role.MAGNET]

    def _estimate(self, fine: float, coarse: float) -> Estimate:
        rise = abs(fine - self.model.ambient)
        if self.coarse is self.model:
            return Estimate(fine, math.nan)
        return Estimate(fine, CHANGE * abs(fine - coarse) + FLOOR * rise + self.model.misfit)

    @property
    def losses(self) -> Estimate:
        """Heat of eddy currents in all parts, W; 0 where they are left out."""
        fine, coarse = (sum(s.losses.values()) for _, s in self._pairs())
        if self.coarse is self.model:
            return Estimate(fine, math.nan)
        return Estimate(fine, CHANGE * abs(fine - coarse) + FLOOR_LOSSES * fine)

    def mean(self, name: str) -> Estimate:
        """Return the mean temperature of a body in K with its numerical uncertainty."""
        return self._estimate(*(mean_of(m, s.state, name) for m, s in self._pairs()))

    def hottest(self, name: str) -> Estimate:
        """Return the hottest place of a body in K with its numerical uncertainty."""
        return self._estimate(*(hottest_of(m, s.state, name) for m, s in self._pairs()))

    def _pairs(self) -> list[tuple[HeatModel, Settled]]:
        return [(self.model, self.settled), (self.coarse, self.settled_coarse)]

    @property
    def coil(self) -> Estimate:
        """Mean temperature of the winding, the one that its resistance shows."""
        return self.mean(WINDING)

    @property
    def magnet(self) -> Estimate:
        """Mean temperature of the warmest magnet."""
        return self.mean(self.warmest)

    @functools.cached_property
    def _bands(self) -> dict[str, float]:
        """How far BAND's assumptions together may shift each figure, root of squares."""

        def figures(model: HeatModel) -> Floats:
            found = self._figures(model, model.settle(self.power, self.settled))
            return np.array(list(found.values()))

        own = self._figures(self.model, self.settled)
        found = band_of(self.model, np.array(list(own.values())), figures)
        return dict(zip(own, found.tolist(), strict=True))

    def _figures(self, model: HeatModel, settled: Settled) -> dict[str, float]:
        return {
            "coil": mean_of(model, settled.state, WINDING),
            "coil_hottest": hottest_of(model, settled.state, WINDING),
            "losses": sum(settled.losses.values()),
            **{name: mean_of(model, settled.state, name) for name in self.magnets},
        }

    def band(self, figure: str) -> float:
        """Return what materials and convection leave open of a figure, K or W.

        Figures are "coil", "coil_hottest", "losses", and each magnet by its name.

        Each assumption of BAND is taken to either end by itself; the root of the squares.  No
        measured drivers stand behind it: it is wide on purpose.
        """
        return self._bands[figure]

    @functools.cached_property
    def limits(self) -> list[HeatLimit]:
        """What each thing bears, the least power first."""
        return limits_of(self.model, self.settled, self.power)

    @functools.cached_property
    def largest_power(self) -> tuple[Estimate, str]:
        """Largest lasting programme power in W (coil at 20 degC), and what limits it."""
        first = self.limits[0]
        if self.coarse is self.model:
            return Estimate(first.power, math.nan), first.name
        other = allowed(self.coarse, first.name, first.limit, self.settled_coarse, self.power)
        error = CHANGE * abs(first.power - other) + FLOOR * first.power
        return Estimate(first.power, error), first.name

    @functools.cached_property
    def largest_power_band(self) -> float:
        """What materials and convection leave open of the largest power, W."""
        first = self.limits[0]

        def power(model: HeatModel) -> Floats:
            near = max(first.power, 1.0)
            return np.array([allowed(model, first.name, first.limit, None, near)])

        return float(band_of(self.model, np.array([first.power]), power)[0])

    @functools.cached_property
    def ends(self) -> list[HeatHistory] | None:
        """The design's programme for the design's duration, on each mesh; None without one."""
        rules = self.design.heat
        if rules.duration is None:
            return None
        played = programme_of(rules)
        fine = self._played(self.model, played, rules.duration)
        if self.coarse is self.model:
            return [fine, fine]
        return [fine, self._played(self.coarse, played, rules.duration)]

    def at_end(self, name: str) -> Estimate | None:
        """Return the highest mean temperature in K of a body, by the end of the duration.

        Of the winding and the warmest magnet; None where the design gives no duration.
        """
        if self.ends is None:
            return None
        fine, coarse = ((h.coil if name == WINDING else h.magnet).max() for h in self.ends)
        return self._estimate(float(fine), float(coarse))

    @functools.cached_property
    def margin(self) -> tuple[Estimate, str]:
        """Least distance in K to what anything bears, negative beyond it, and of what.

        At the end of the design's duration, or once settled where there is none.
        """
        states = [s.state for _, s in self._pairs()]
        if self.ends is not None:
            states = [history.end for history in self.ends]
        fine, coarse = (
            {
                name: kelvin - temperature_of(model, state, name)
                for name, kelvin, _ in borne(self.design)
            }
            for (model, _), state in zip(self._pairs(), states, strict=True)
        )
        first = min(fine, key=lambda name: fine[name])
        limit = {name: kelvin for name, kelvin, _ in borne(self.design)}[first]
        error = self._estimate(limit - fine[first], limit - coarse[first]).uncertainty
        return Estimate(fine[first], error), first

    @property
    def bl_at_rest(self) -> Estimate:
        """Bl at rest in T m with the magnets warm, losses for good included."""
        return self.warm.bl_curve.at_rest

    @property
    def bl_band(self) -> float:
        """What the magnets' temperature leaves open of Bl at rest, T m: first order."""
        rise = self.magnet.value - self.design.temperature
        if abs(rise) < 0.1:
            return 0.0
        change = self.bl_at_rest.value - self.result.bl_curve.at_rest.value
        return abs(change / rise) * self.band(self.warmest)

    @property
    def resistance(self) -> float:
        """Resistance of the warm coil, ohm."""
        return self.model.resistance(self.settled.coil)

    @property
    def compression(self) -> float:
        """Change of level in dB, where mass rules, from warm coil and magnets; 0 or less.

        Against coil and magnets at the design's temperature.
        """
        more = self.model.output_resistance
        cold = self.design.coil.resistance(self.design.temperature) + more
        bl = self.bl_at_rest.value / self.result.bl_curve.at_rest.value
        return 20 * math.log10(bl * cold / (self.resistance + more))

    @functools.cached_property
    def warmest(self) -> str:
        """Name of the warmest magnet."""
        return max(self.magnets, key=lambda name: self.mean(name).value)

    @functools.cached_property
    def bodies(self) -> TwoBodies:
        """Coil and motor as two bodies, exact where the programme has settled."""
        return two_bodies(self.model, self.settled)

    @functools.cached_property
    def constants(self) -> TimeConstants:
        """Time constants of the coil about the settled state."""
        return time_constants(self.model, self.settled, self.warmest)

    def history(self, programme: Programme, duration: float) -> HeatHistory:
        """Return temperatures over time under a programme, from cold, for a duration in s."""
        return self._played(self.model, programme, duration)

    def _played(self, model: HeatModel, programme: Programme, duration: float) -> HeatHistory:
        times, shares = programme.steps(duration)
        with step("temperatures over time"):
            found = warm_up(model, self.warmest, self.power * shares, times)
        air = f"{self.model.ambient - ZERO_CELSIUS:.0f} degC"
        words = f"{self.power:g} W {programme.kind}, air at {air}"
        return replace(found, name=self.design.name, programme=words)

    def over_power(self) -> list[dict[str, float]]:
        """Return where programmes of ten powers settle, up to what chars coil or magnets.

        Power in W, temperatures in K, level in dB: from the coil's resistance, against ambient.
        """
        most = min(
            allowed(self.model, "wire", CHARRED, self.settled, self.power),
            *(limit.power for limit in self.limits if "Curie" in limit.name),
            MOST_POWER,
        )
        cold, more = self.model.resistance(self.model.ambient), self.model.output_resistance
        rows, found = [], None
        for power in most * np.arange(1, 11) / 10:
            found = self.model.settle(float(power), found)
            warm = self.model.resistance(found.coil)
            rows.append(
                {
                    "power": float(power),
                    "coil": found.coil,
                    "coil_hottest": hottest_of(self.model, found.state, WINDING),
                    "magnet": mean_of(self.model, found.state, self.warmest),
                    "level": 20 * math.log10((cold + more) / (warm + more)),
                }
            )
        return rows

    @property
    def ways(self) -> dict[str, float]:
        """Heat in W that leaves by each way to the air; their sum is the coil's."""
        to_air, state = self.model.reduced.to_air, self.settled.state
        found = {k: self.settled.coefficients[k] * float(v @ state) for k, v in to_air.items()}
        return {k: v for k, v in found.items() if to_air[k].any()}

    @property
    def cautions(self) -> list[str]:
        """What passes its limit, and what magnets lose for good."""
        found = passed(self.limits)
        of_range, of_loss = magnet_notes(self.warm, self.magnets)
        return found + [n for n in (*of_range, *of_loss) if n not in self.result.notes]


@one_blas_thread()
def heat(
    result: MotorResult,
    power: float,
    *,
    ambient: float | None = None,
    displacement: float | None = None,
    spectrum: Spectrum | None = None,
) -> Warmth:
    """Return a solved motor where a lasting programme settles.

    Parameters
    ----------
    result : MotorResult
    power : float
        Programme power in W that the voltage would give in the coil at 20 degC; the motional
        impedance is left out.
    ambient : float or None
        K, instead of the design's.
    displacement : float or None
        R.m.s. travel in m, instead of the design's.
    spectrum : Spectrum or None
        Of the programme where eddy currents are included, instead of noise.

    Raises
    ------
    InvalidInput
        If the power is no number of 0 or more, or if coil or magnets would no longer exist.
    """
    if not (math.isfinite(power) and 0 <= power <= MOST_POWER):
        raise InvalidInput("power", f"be between 0 and {MOST_POWER:g} W", f"{power:g} W")
    rules = result.design.heat
    if ambient is not None:
        rules = dataclasses.replace(rules, ambient=ambient)
    if displacement is None:
        displacement = rules.displacement
    if displacement is None:
        displacement = result.usable_stroke.value / 4
    if not (math.isfinite(displacement) and displacement >= 0):
        raise InvalidInput("displacement", "be 0 mm or more", f"{displacement * 1e3:g} mm")
    design = result.design.replace(heat=rules)
    (model, settled), (coarse, before) = settled_models(
        result, design, displacement, power, spectrum=spectrum
    )
    bearable(model, settled, design, power)
    own = {r.name: mean_of(model, settled.state, r.name) for r in design.regions}
    parts = dataclasses.replace(design.materials, temperatures=own)
    with step("the field with warm magnets"):
        both = result.field.fine is not result.field.coarse
        warm = solve(design.replace(materials=parts), uncertainty=both, warm_start=result)
    home = dataclasses.replace(result, design=design)
    return Warmth(home, power, model, coarse, settled, before, warm, displacement)
