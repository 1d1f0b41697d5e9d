"""What parts, wire and bonds of a driver bear, and the power that brings them there."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from geometries import InvalidInput, Role
from motor.base.arrays import Floats
from motor.base.constants import ZERO_CELSIUS
from motor.design.design import HOTTEST, Design
from motor.field.heat_mesh import FORMER, WINDING
from motor.materials import former_named
from motor.results.heat_model import HeatModel, Settled

__all__ = [
    "CHARRED",
    "MOST_POWER",
    "HeatLimit",
    "allowed",
    "bearable",
    "borne",
    "hottest_of",
    "mean_of",
    "temperature_of",
]

CHARRED = ZERO_CELSIUS + 300.0
"""K, beyond which no winding wire or adhesive is left: nothing is computed there."""
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


def mean_of(model: HeatModel, state: Floats, name: str) -> float:
    """Return the mean temperature of a body, K, at a state in the model's modes."""
    return model.ambient + float(model.reduced.mean[name] @ state)


def hottest_of(model: HeatModel, state: Floats, name: str) -> float:
    """Return the temperature of a body's hottest place, K, at a state in the model's modes."""
    return model.ambient + model.reduced.hottest(name, state)


def borne(design: Design) -> list[tuple[str, float, str]]:
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


def temperature_of(model: HeatModel, state: Floats, name: str) -> float:
    """Return the temperature in K that counts for a limit, at a state in the model's modes."""
    if name == "ferrofluid":
        return model.ambient + float(model.reduced.near["fluid"] @ state)
    bodies = {"wire": WINDING, "coil bond": WINDING, "former": FORMER, "magnet bond": "bond"}
    return hottest_of(model, state, bodies.get(name, name.split(",")[0]))


def allowed(
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
        return temperature_of(model, settled(log_power).state, name) - limit

    middle = math.log(max(power, 1e-3))
    low, high = middle, middle
    while excess(low) > 0:
        low -= 1.0
    while excess(high) < 0:
        if hottest_of(model, settled(high).state, WINDING) > CHARRED:
            return math.inf
        high += 0.5
    return math.exp(brentq(excess, low, high, xtol=1e-5)) if high > low else math.exp(low)


def bearable(warmth: HeatModel, settled: Settled, design: Design, power: float) -> None:
    """Refuse temperatures at which nothing that is computed here exists any more."""
    coil = hottest_of(warmth, settled.state, WINDING)
    wire = allowed(warmth, "wire", design.heat.wire_class, None, 10.0)
    if coil > CHARRED:
        raise InvalidInput(
            "power",
            f"keep the coil below {CHARRED - ZERO_CELSIUS:.0f} degC, where enamel and "
            "adhesive are gone "
            f"({wire:.3g} W bring it to its wire's class)",
            f"{power:.4g} W",
        )
    for region in design.regions:
        if region.role is Role.MAGNET:
            curie = min(design.materials.magnet_of(region.name).curie, HOTTEST)
            if hottest_of(warmth, settled.state, region.name) >= curie:
                raise InvalidInput(
                    "power",
                    f"keep {region.name} below {curie - ZERO_CELSIUS:.0f} degC, where its magnet's "
                    f"Curie temperature or the range of its values ends ({wire:.3g} W bring the "
                    "coil to its wire's class)",
                    f"{power:.4g} W",
                )
