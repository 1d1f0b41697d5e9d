"""What parts, wire and bonds of a driver bear, and the power that brings them there."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from geometries import Role
from motor.base.arrays import Floats
from motor.base.constants import ZERO_CELSIUS
from motor.design.design import Design
from motor.field.heat_mesh import FORMER, WINDING
from motor.materials import former_named
from motor.results.heat_model import HeatModel, Settled
from motor.results.heat_surroundings import BAND

__all__ = [
    "CHARRED",
    "MOST_POWER",
    "HeatLimit",
    "allowed",
    "band_of",
    "borne",
    "hottest_of",
    "limits_of",
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


def limits_of(model: HeatModel, settled: Settled, power: float) -> list[HeatLimit]:
    """Return what each thing bears, the least power first, about a settled power in W."""
    found = []
    for name, kelvin, source in borne(model.design):
        value = temperature_of(model, settled.state, name)
        most = allowed(model, name, kelvin, settled, power)
        found.append(HeatLimit(name, kelvin, value, most, source))
    return sorted(found, key=lambda limit: limit.power)


def band_of(model: HeatModel, own: Floats, figures: Callable[[HeatModel], Floats]) -> Floats:
    """Return how far BAND's assumptions together may shift a model's own figures: array as theirs.

    Each is taken to either end by itself; the root of the squares of the larger shifts.
    """
    squares = np.zeros_like(own)
    for name, factor in BAND.items():
        ends = [replace(model.around, scales={name: scale}) for scale in (factor, 1 / factor)]
        shifts = [np.abs(figures(replace(model, around=around)) - own) for around in ends]
        squares += np.max(shifts, axis=0) ** 2
    return np.asarray(np.sqrt(squares))
