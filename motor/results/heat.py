"""A motor at work: how warm coil and magnets get, what that costs, and the power they bear.

The programme's heat flows through the section of the motor; resistance, remanence and coercivity
follow.  Heat of the coil only: eddy currents in steel and rings are left out.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scipy.optimize import brentq

from geometries import InvalidInput, Role
from motor.base.blas_threads import one_blas_thread
from motor.base.steps import step
from motor.design.design import HOTTEST, Design
from motor.field.field import Estimate
from motor.field.heat_mesh import FORMER, WINDING
from motor.materials import former_named
from motor.results.heat_model import HeatModel, Settled, heat_model
from motor.results.heat_surroundings import BAND

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["CHARRED", "HeatLimit", "Warmth", "heat"]

ZERO = 273.15
CHARRED = ZERO + 300.0
"""K, beyond which no winding wire or adhesive is left: nothing is computed there."""
ROWS = (12, 24)
"""Rows of the winding's grid on the coarse and on the fine mesh."""
CHANGE, FLOOR = 1.0, 0.002
"""Numerical uncertainty of a rise: CHANGE times its change between the meshes, and FLOOR of it."""
MOST_POWER = 1e5
"""W: no limit is looked for beyond."""


@dataclass(frozen=True)
class HeatLimit:
    """What one thing bears.

    Parameters
    ----------
    name : str
    limit : float
        Temperature, K.
    temperature : float
        At the programme asked for, its hottest place, K.
    power : float
        Programme power in W (coil at 20 degC) that brings it there; 0 if the air is hotter,
        infinite if the coil is charred before.
    source : str
    """

    name: str
    limit: float
    temperature: float
    power: float
    source: str


@dataclass(frozen=True)
class Warmth:
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
        With the magnets as warm as they get.
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

    def mean(self, name: str) -> Estimate:
        """Return the mean temperature of a body in K with its numerical uncertainty."""
        return self._estimate(*(_mean(m, s, name) for m, s in self._pairs()))

    def hottest(self, name: str) -> Estimate:
        """Return the hottest place of a body in K with its numerical uncertainty."""
        return self._estimate(*(_hottest(m, s, name) for m, s in self._pairs()))

    def _pairs(self) -> list[tuple[HeatModel, Settled]]:
        return [(self.model, self.settled), (self.coarse, self.settled_coarse)]

    @property
    def coil(self) -> Estimate:
        """Mean temperature of the winding, the one that its resistance shows."""
        return self.mean(WINDING)

    @property
    def magnet(self) -> Estimate:
        """Mean temperature of the warmest magnet."""
        return max((self.mean(name) for name in self.magnets), key=lambda e: e.value)

    @functools.cached_property
    def _bands(self) -> dict[str, float]:
        """How far BAND's assumptions together may shift each figure, root of squares."""
        start = self.settled
        own = self._figures(self.model, start)
        total = dict.fromkeys(own, 0.0)
        for name, factor in BAND.items():
            worst = dict.fromkeys(own, 0.0)
            for scale in (factor, 1 / factor):
                around = replace(self.model.around, scales={name: scale})
                model = replace(self.model, around=around)
                found = self._figures(model, model.settle(self.power, start))
                worst = {k: max(worst[k], abs(found[k] - own[k])) for k in own}
            total = {k: total[k] + worst[k] ** 2 for k in own}
        return {k: math.sqrt(v) for k, v in total.items()}

    def _figures(self, model: HeatModel, settled: Settled) -> dict[str, float]:
        return {
            "coil": _mean(model, settled, WINDING),
            "coil_hottest": _hottest(model, settled, WINDING),
            "magnet": max(_mean(model, settled, n) for n in self.magnets),
        }

    def band(self, figure: str) -> float:
        """Return what materials and convection leave open of "coil", "coil_hottest", "magnet", K.

        Each assumption of BAND is taken to either end by itself; the root of the squares.  No
        measured drivers stand behind it: it is wide on purpose.
        """
        return self._bands[figure]

    @functools.cached_property
    def limits(self) -> list[HeatLimit]:
        """What each thing bears, the least power first."""
        found = []
        for name, kelvin, source in _borne(self.design):
            value = _temperature(self.model, self.settled, name)
            power = _allowed(self.model, name, kelvin, self.settled, self.power)
            found.append(HeatLimit(name, kelvin, value, power, source))
        return sorted(found, key=lambda limit: limit.power)

    @functools.cached_property
    def largest_power(self) -> tuple[Estimate, str]:
        """Largest lasting programme power in W (coil at 20 degC), and what limits it."""
        first = self.limits[0]
        if self.coarse is self.model:
            return Estimate(first.power, math.nan), first.name
        other = _allowed(self.coarse, first.name, first.limit, self.settled_coarse, self.power)
        error = CHANGE * abs(first.power - other) + FLOOR * first.power
        return Estimate(first.power, error), first.name

    @functools.cached_property
    def largest_power_band(self) -> float:
        """What materials and convection leave open of the largest power, W."""
        first = self.limits[0]
        total = 0.0
        for name, factor in BAND.items():
            worst = 0.0
            for scale in (factor, 1 / factor):
                around = replace(self.model.around, scales={name: scale})
                model = replace(self.model, around=around)
                power = _allowed(model, first.name, first.limit, None, max(first.power, 1.0))
                worst = max(worst, abs(power - first.power))
            total += worst**2
        return math.sqrt(total)

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
        return abs(change / rise) * self.band("magnet")

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

    @property
    def ways(self) -> dict[str, float]:
        """Heat in W that leaves by each way to the air; their sum is the coil's."""
        to_air, state = self.model.reduced.to_air, self.settled.state
        found = {k: self.settled.coefficients[k] * float(v @ state) for k, v in to_air.items()}
        return {k: v for k, v in found.items() if to_air[k].any()}

    @property
    def cautions(self) -> list[str]:
        """What passes its limit, and what magnets lose for good."""
        found = [
            f"{limit.name} at {limit.temperature - ZERO:.0f} degC passes the "
            f"{limit.limit - ZERO:.0f} degC that it bears ({limit.power:.3g} W bring it there)"
            for limit in self.limits
            if limit.temperature > limit.limit
        ]
        return found + [note for note in self.warm.notes if note not in self.result.notes]


def _mean(model: HeatModel, settled: Settled, name: str) -> float:
    return model.ambient + float(model.reduced.mean[name] @ settled.state)


def _hottest(model: HeatModel, settled: Settled, name: str) -> float:
    return model.ambient + model.reduced.hottest(name, settled.state)


def _borne(design: Design) -> list[tuple[str, float, str]]:
    """Return what is named, up to which temperature (K) it lasts, and who says so."""
    rules, coil = design.heat, design.coil
    rows = [
        ("wire", rules.wire_class, "thermal class, IEC 60085, from memory; as the design says"),
        ("coil bond", rules.coil_adhesive, "usual for cured resin, from memory"),
    ]
    if coil.former_thickness and coil.former_material:
        former = former_named(coil.former_material)
        rows.append(("former", former.hottest, former.source))
    for region in design.regions:
        if region.role is Role.MAGNET:
            grade = design.materials.magnet_of(region.name)
            if math.isfinite(grade.hottest):
                rows.append((region.name, grade.hottest, f"{grade.name}: {grade.source}"))
            if math.isfinite(grade.curie):
                curie = f"{region.name}, Curie temperature"
                rows.append((curie, grade.curie, f"{grade.name}: {grade.source}"))
    rows.append(("magnet bond", rules.joint_adhesive, "structural acrylic, from memory"))
    if rules.ferrofluid == "filled":
        rows.append(("ferrofluid", rules.ferrofluid_limit, "oil-based, from memory"))
    return rows


def _temperature(model: HeatModel, settled: Settled, name: str) -> float:
    """Return the temperature in K that counts for a limit."""
    if name == "ferrofluid":
        return model.ambient + float(model.reduced.near["fluid"] @ settled.state)
    bodies = {"wire": WINDING, "coil bond": WINDING, "former": FORMER, "magnet bond": "bond"}
    return _hottest(model, settled, bodies.get(name, name.split(",")[0]))


def _allowed(
    model: HeatModel, name: str, limit: float, start: Settled | None, power: float
) -> float:
    """Return the programme power in W that brings something to its limit.

    Infinite where the coil would be charred before.
    """
    room = limit - model.ambient
    if room <= 0:
        return 0.0

    def settled(log_power: float) -> Settled:
        return model.settle(math.exp(log_power), start)

    def excess(log_power: float) -> float:
        return _temperature(model, settled(log_power), name) - limit

    middle = math.log(max(power, 1e-3))
    low, high = middle, middle
    while excess(low) > 0:
        low -= 1.0
    while excess(high) < 0:
        if _hottest(model, settled(high), WINDING) > CHARRED:
            return math.inf
        high += 0.5
    return math.exp(brentq(excess, low, high, xtol=1e-5)) if high > low else math.exp(low)


def _bearable(warmth: HeatModel, settled: Settled, design: Design, power: float) -> None:
    """Refuse temperatures at which nothing that is computed here exists any more."""
    coil = _hottest(warmth, settled, WINDING)
    wire = _allowed(warmth, "wire", design.heat.wire_class, None, 10.0)
    if coil > CHARRED:
        raise InvalidInput(
            "power",
            f"keep the coil below {CHARRED - ZERO:.0f} degC, where enamel and adhesive are gone "
            f"({wire:.3g} W bring it to its wire's class)",
            f"{power:.4g} W",
        )
    for region in design.regions:
        if region.role is Role.MAGNET:
            curie = min(design.materials.magnet_of(region.name).curie, HOTTEST)
            if _hottest(warmth, settled, region.name) >= curie:
                raise InvalidInput(
                    "power",
                    f"keep {region.name} below {curie - ZERO:.0f} degC, where its magnet's "
                    f"Curie temperature or the range of its values ends ({wire:.3g} W bring the "
                    "coil to its wire's class)",
                    f"{power:.4g} W",
                )


@one_blas_thread()
def heat(
    result: MotorResult,
    power: float,
    *,
    ambient: float | None = None,
    displacement: float | None = None,
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
    levels = [result.field.coarse, result.field.fine]
    if levels[0] is levels[1]:
        del levels[0]
    models: list[tuple[HeatModel, Settled]] = []
    asked = max(power, 1.0)
    for rows, level in zip(ROWS, levels, strict=False):
        with step("heat in the section"):
            model, _ = heat_model(
                design,
                level.system.mesh,
                divisions=rows,
                displacement=displacement,
                powers=(asked,),
            )
            models.append((model, model.settle(power)))
    (model, settled), (coarse, before) = models[-1], models[0]
    _bearable(model, settled, design, power)
    warmest = max(_mean(model, settled, r.name) for r in design.regions if r.role is Role.MAGNET)
    with step("the field with warm magnets"):
        warm = _solved(design.replace(temperature=warmest), result)
    home = dataclasses.replace(result, design=design)
    return Warmth(home, power, model, coarse, settled, before, warm, displacement)


def _solved(design: Design, near: MotorResult) -> MotorResult:
    from motor.results.motor_result import solve

    return solve(design, uncertainty=near.field.fine is not near.field.coarse, near=near)
