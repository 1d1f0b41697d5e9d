"""Targets: what a motor must reach, and how far a solved design is from it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.quantity import COLUMN_UNITS, Quantity
from motor.base.units import format_quantity
from motor.design.design import Design
from motor.materials import conductor_names, former_names, magnet_names, steel_names
from motor.results.quantities import (
    ASSEMBLY,
    CENTRING,
    COIL_CURRENT,
    HEAT,
    INDUCTANCE,
    TONE,
    motor_quantities,
)
from motor.study.evaluate import Measure

__all__ = [
    "GOALS",
    "GOAL_KEYS",
    "Requirement",
    "Target",
    "price_caution",
    "sized_figures",
    "target_kinds",
]

BELOW_ZERO = ("coldest", "hottest", "margin_least", "thermal_margin_least")
"""What may be asked for as 0 or less."""
GOALS = ("mass", "cost", "volume")
"""What can be minimised: kilogram of motor and coil, cost of both, litre of the envelope."""
GOAL_KEYS = (
    "motor_mass_g",
    "coil_mass_with_enamel_g",
    "former_mass_g",
    "total_cost",
    "volume_cm3",
)
"""Figures that they are made of."""
FAR = 100.0
"""kA/m of missing margin to the knee that counts like a relative miss of 1."""

SPECIAL = {
    "resistance": "resistance",
    "coldest": "temperature",
    "hottest": "temperature",
    "margin_least": "field_strength",
    "current": "current",
    "holding": "force",
    "inductance_at": "frequency",
    "coil_current": "current",
    "tone_at": "frequency",
    "tone_voltage": "voltage",
}
"""Kinds of quantity of what is asked beside limits of figures."""
SIDES = ("least", "most")
SAYING_HOW = ("minimise", "maximise", "minimise_figure", "further", "assembly")
"""What of a target is no number."""
MOST_MARGIN = 200.0
"""K; temperatures in degC given for a difference lie beyond."""
WARM = 50.0
"""K of missing thermal margin that count like a relative miss of 1."""


def _limited() -> Iterator[tuple[str, Quantity[Any], bool]]:
    """Yield every limit that a target may hold: its name, the figure, whether it is the least."""
    asked = (HEAT, CENTRING, ASSEMBLY, INDUCTANCE, COIL_CURRENT, TONE)
    for quantity in (*motor_quantities(), *(q for group in asked for q in group)):
        for side in SIDES if quantity.kind else ():
            yield f"{quantity.target or quantity.name}_{side}", quantity, side == "least"


def sized_figures() -> list[str]:
    """Return the names of all figures that a target may limit, or make large or small."""
    return [name.removesuffix("_least") for name, _, least in _limited() if least]


def target_kinds() -> dict[str, str]:
    """Return the kind of quantity of everything that a target may ask, by name."""
    return {name: quantity.kind for name, quantity, _ in _limited()} | SPECIAL


@dataclass(frozen=True)
class Requirement:
    """One requirement and what a design makes of it.

    Parameters
    ----------
    name : str
        In words.
    limit, value : float
        In the unit; the value is infinite where nothing limits it.
    unit : str
    least : bool
        True if the value must be at least the limit, False if at most.
    scale : float
        Size of a miss that counts as 1.
    key : str
        Of the figure among the results.
    """

    name: str
    limit: float
    value: float
    unit: str
    least: bool
    scale: float
    key: str = ""

    @property
    def slack(self) -> float:
        """Relative distance on the good side; negative if missed."""
        way = self.value - self.limit if self.least else self.limit - self.value
        return min(way / self.scale, 10.0)

    def sentence(self) -> str:
        """Return the requirement, what is reached and the miss as text."""
        kind = "at least" if self.least else "at most"
        text = f"{self.name} must be {kind} {self.limit:.4g} {self.unit}; reached "
        text += f"{self.value:.4g} {self.unit}"
        return text if self.slack >= 0 else f"{text} ({-100 * self.slack:.1f} % short)"


@dataclass(frozen=True, kw_only=True)
class Target:
    """What a motor must reach.  SI; ``None`` for no requirement.

    Parameters
    ----------
    bl_least, bl_most : float or None
        Bl at rest, T m.
    motor_constant_least : float or None
        Bl^2/Re, N^2/W.
    resistance : float or None
        Of the coil at 20 degC, ohm: the wire is chosen for it.
    stroke_least : float or None
        Usable linear stroke by the design's own limits, one-way, metres.
    coil_diameter_least, coil_diameter_most : float or None
        Bore of the former, metres.
    outer_diameter_most, height_most : float or None
        Envelope, metres.
    coldest, hottest : float or None
        Temperatures, kelvin, at which the magnet must keep ``margin_least``.
    margin_least : float
        Distance to the knee, A/m.
    current : float
        Opposing peak coil current at those temperatures, ampere.
    assembly : tuple of str
        Parts that are brought to the others, for limits of ``assembly_peak`` and
        ``holding_distance``.
    holding : float or None
        Force that hands or a fixture hold then, newton.
    inductance_at : float or None
        Frequency for limits of the inductance, Hz.
    coil_current : float or None
        Peak current for limits of Bl under current and of its steady pull, ampere.
    tone_at, tone_voltage : float or None
        Hz and V r.m.s. for limits of a tone's distortion.
    minimise : mapping of "mass", "cost", "volume" to weight
        Per kilogram, per unit of cost and per litre.
    maximise : str
        Name of a figure, as in limits but without ``_least``, that is made as large as possible
        instead.
    minimise_figure : str
        The same for one that is made as small as possible.
    further : mapping of name to float
        Limits of any other figure, by its name and ``_least`` or ``_most``:
        ``{"stray_field_at_100_mm_most": 5e-4}``.

    Raises
    ------
    InvalidInput
        If the target contradicts itself.
    """

    bl_least: float | None = None
    bl_most: float | None = None
    motor_constant_least: float | None = None
    resistance: float | None = None
    stroke_least: float | None = None
    coil_diameter_least: float | None = None
    coil_diameter_most: float | None = None
    outer_diameter_most: float | None = None
    height_most: float | None = None
    coldest: float | None = None
    hottest: float | None = None
    margin_least: float = 0.0
    current: float = 0.0
    assembly: tuple[str, ...] = ()
    holding: float | None = None
    inductance_at: float | None = None
    coil_current: float | None = None
    tone_at: float | None = None
    tone_voltage: float | None = None
    minimise: Mapping[str, float] = field(default_factory=lambda: {"mass": 1.0})
    maximise: str = ""
    minimise_figure: str = ""
    further: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._check_values()
        self._check_goals()
        self._check_order()
        self._check_settings()

    def _check_values(self) -> None:
        """Refuse unknown limits, and numbers that no figure can have."""
        for name in self.further:
            if name not in target_kinds():
                hint = near_names(name, list(target_kinds()))
                raise InvalidInput("further", f"name limits of figures ({hint})", name, "target")
        for name, value in (vars(self) | dict(self.further)).items():
            if name in SAYING_HOW or value is None or (name == "current" and value == 0):
                continue
            low = -math.inf if name in BELOW_ZERO else 0.0
            if not (math.isfinite(value) and value > low):
                raise InvalidInput(name, "be greater than 0", _shown(name, value), "target")

    def _check_goals(self) -> None:
        """Refuse what cannot be made as small or as large as possible."""
        for name, weight in self.minimise.items():
            if name not in GOALS:
                hint = near_names(name, list(GOALS))
                raise InvalidInput("minimise", f"name only known goals ({hint})", name, "target")
            if not (math.isfinite(weight) and weight >= 0):
                raise InvalidInput(f"minimise.{name}", "be 0 or more", weight, "target")
        if not any(self.minimise.values()):
            raise InvalidInput("minimise", "weigh at least one goal", dict(self.minimise), "target")
        figures = sized_figures()
        for way, name in (("maximise", self.maximise), ("minimise", self.minimise_figure)):
            if name and name not in figures:
                limit = f"name a sized figure ({near_names(name, figures)})"
                raise InvalidInput(way, limit, repr(name), "target")
        if self.maximise and self.minimise_figure:
            raise InvalidInput("maximise", "stand without minimise", "both", "target")

    def _check_order(self) -> None:
        """Refuse limits that no motor can keep together."""
        pairs = [
            ("bl_least", "bl_most"),
            ("coil_diameter_least", "coil_diameter_most"),
            ("coldest", "hottest"),
            ("coil_diameter_least", "outer_diameter_most"),
            ("stroke_least", "height_most"),
        ]
        figures = [name.rpartition("_")[0] for name in self.further]
        pairs += [(f"{figure}_least", f"{figure}_most") for figure in figures]
        for low, high in pairs:
            least, most = self.limit(low), self.limit(high)
            if least is not None and most is not None and least > most:
                limit = f"be at most {high}, {_shown(high, most)}"
                raise InvalidInput(low, limit, _shown(low, least), "target")
        if self.bl_most and self.motor_constant_least and self.resistance:
            reach = self.bl_most**2 / self.resistance
            if reach < self.motor_constant_least:
                limit = f"be within reach of bl_most and resistance, {reach:.4g} N^2/W"
                received = f"{self.motor_constant_least:.4g} N^2/W"
                raise InvalidInput("motor_constant_least", limit, received, "target")

    def _check_settings(self) -> None:
        """Refuse limits of figures whose temperature, current or tone is not told."""
        margin = self.further.get("thermal_margin_least", 0.0)
        if margin > MOST_MARGIN:
            limit = f"be a difference in K, at most {MOST_MARGIN:g}"
            raise InvalidInput("thermal_margin_least", limit, f"{margin:g} K", "target")
        if self._asked(ASSEMBLY) and not self.assembly:
            limit = "name the parts that are put together"
            raise InvalidInput("assembly", limit, "none", "target")
        if self._asked(ASSEMBLY[-1:]) and self.holding is None:
            raise InvalidInput("holding", "be given with holding_distance", "nothing", "target")
        for figures_at, key in (
            (INDUCTANCE, "inductance_at"),
            (COIL_CURRENT, "coil_current"),
            (TONE, "tone_at"),
            (TONE, "tone_voltage"),
        ):
            if (asked := self._asked(figures_at)) and self.limit(key) is None:
                raise InvalidInput(key, f"be given with {asked[0]}", "nothing", "target")

    def limit(self, name: str) -> float | None:
        """Return a limit by its name, in SI; None if it is not asked for."""
        found: float | None = getattr(self, name, None)
        return self.further.get(name) if found is None else found

    @property
    def warm(self) -> tuple[str, ...]:
        """Names of what is asked of a motor that plays its section [heat]'s programme."""
        return self._asked(HEAT)

    def _asked(self, figures: Iterable[Quantity[Any]]) -> tuple[str, ...]:
        """Return the names of limits of some figures that are asked for."""
        keys = {quantity.key for quantity in figures}
        return tuple(n for n, q, _ in _limited() if q.key in keys and self.limit(n) is not None)

    @property
    def measure(self) -> Measure:
        """What has to be found out for it beside the usual results."""
        off_centre = bool(self._asked(CENTRING))
        sides = self.coldest, self.hottest, self.current
        coil = self.inductance_at, self.coil_current, self.tone_at, self.tone_voltage
        return Measure(*sides, off_centre, self.assembly, self.holding, *coil)

    def requirements(self, results: Mapping[str, Any]) -> list[Requirement]:
        """Return every requirement with what a design's results make of it."""
        found = []
        for name, quantity, least in _limited():
            limit = self.limit(name)
            if limit is not None:
                unit, value = COLUMN_UNITS[quantity.unit], results[quantity.key]
                reached, bound = math.inf if value is None else value, unit.of_si(limit)
                words, scale = quantity.words, WARM if name == "thermal_margin_least" else bound
                found.append(
                    Requirement(words, bound, reached, unit.words, least, scale, quantity.key)
                )
        for side, kelvin in (("cold", self.coldest), ("hot", self.hottest)):
            if kelvin is not None:
                key = f"demag_margin_{side}_kA_per_m"
                reached = math.inf if results[key] is None else results[key]
                name = f"margin to the knee at {kelvin - ZERO_CELSIUS:.0f} degC"
                bound = self.margin_least / 1e3
                found.append(Requirement(name, bound, reached, "kA/m", True, FAR, key))
        return found

    @property
    def extreme(self) -> tuple[Quantity[Any], float] | None:
        """The figure that is made as small (1) or as large (-1) as possible, or None."""
        wanted = f"{self.maximise or self.minimise_figure}_least"
        found = next((quantity for name, quantity, _ in _limited() if name == wanted), None)
        return None if found is None else (found, -1.0 if self.maximise else 1.0)

    def objective(self, results: Mapping[str, Any]) -> float:
        """Return the weighted sum that is to be minimised, or the figure, less if maximised."""
        if self.extreme is not None:
            figure, sign = self.extreme
            value = results[figure.key]
            return -math.inf if value is None and sign < 0 else sign * _number(value)
        mass = results["motor_mass_g"] + results["coil_mass_with_enamel_g"]
        goals = {
            "mass": (mass + results["former_mass_g"]) / 1e3,
            "cost": results["total_cost"],
            "volume": results["volume_cm3"] / 1e3,
        }
        return float(sum(weight * goals[name] for name, weight in self.minimise.items()))


def price_caution(target: Target, design: Design) -> str:
    """Return a caution if the cost that is minimised rests on invented prices; else nothing."""
    if target.extreme or not target.minimise.get("cost"):
        return ""
    materials, coil = design.materials, design.coil
    used = [materials.material_of(region).name for region in design.regions]
    used += [
        *(one.wire.material for one in coil.each),
        *([coil.former_material] if coil.former_material else []),
    ]
    listed = {*magnet_names(), *steel_names(), *conductor_names(), *former_names()}
    invented = [n for n in dict.fromkeys(used) if n in listed and n not in materials.prices]
    if not invented:
        return ""
    return (
        f"the cost that is minimised rests on invented prices of {', '.join(invented)}; give your "
        "own in [materials.prices], or the answer is one about the defaults"
    )


def _number(value: Any) -> float:
    return math.inf if value is None else float(value)


def _shown(name: str, value: float) -> str:
    """Return a requirement's value with its unit."""
    if not math.isfinite(value):
        return str(value)
    return format_quantity(float(f"{value:.6g}"), target_kinds().get(name, "length"))
