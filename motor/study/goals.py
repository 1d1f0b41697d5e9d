"""What a designer wants of a solved motor, as text: "bl_at_rest +5%", "motor_mass kept"."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.quantity import COLUMN_UNITS, Quantity
from motor.base.units import parse_quantity
from motor.results.quantities import motor_quantities

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["CENTRED", "Goal", "goal"]

CENTRED = "centred"
"""Bl(x) as high at the inner as at the outer end of the 82 % stroke."""
Sense = Literal["least", "most", "equal"]
_TEXT = re.compile(r"([A-Za-z][A-Za-z0-9_]*)\s*(?:([+\-=])\s*(\S.*)|(kept))")
_KINDS = {"mm": "length", "g": "mass", "T": "flux_density", "uT": "flux_density"}


@dataclass(frozen=True)
class Goal:
    """A figure's wanted value.

    Parameters
    ----------
    figure : str
        Key of ``summary.json``.
    value, now : float
        Wanted and as solved, in the key's unit.
    sense : "least", "most" or "equal"
    text : str
        As it was asked for.
    """

    figure: str
    value: float
    now: float
    sense: Sense
    text: str

    @property
    def sentence(self) -> str:
        """The goal in words."""
        end = _figures()[self.figure].unit
        kind = {"least": "at least ", "most": "at most ", "equal": ""}[self.sense]
        words, unit = _figures()[self.figure].words, COLUMN_UNITS[end].words
        return f"{words} {kind}{self.value:.4g} {unit}".rstrip() + f" (now {self.now:.4g})"


def _figures() -> dict[str, Quantity[MotorResult]]:
    return {q.key: q for q in motor_quantities() if q.slope}


def goal(text: str, result: MotorResult) -> Goal:
    """Return what a text asks of a solved motor.

    Parameters
    ----------
    text : str
        A figure and what is wanted of it: "FIGURE +5%", "FIGURE -0.2 T", "FIGURE = 4 mm",
        "FIGURE kept" (not worse, where more or less is better), or "centred".  A rise is reached
        or passed, a fall likewise.
    result : MotorResult

    Raises
    ------
    InvalidInput
        If the text cannot be read, or the motor has no such figure.
    """
    if text.strip() == CENTRED:
        return _goal("bl_asymmetry_at_82_percent", "=", "0", text, result)
    match = _TEXT.fullmatch(text.strip())
    if match is None:
        ways = '"bl_at_rest +5%", "usable_stroke +1 mm", "motor_mass kept" or "centred"'
        raise InvalidInput("goal", f"be such as {ways}", repr(text))
    name, way, amount, kept = match.groups()
    return _goal(name, "kept" if kept else way, amount or "", text, result)


def _goal(name: str, way: str, amount: str, text: str, result: MotorResult) -> Goal:
    figures = _figures()
    names: Mapping[str, str] = {q.name: key for key, q in figures.items()} | {k: k for k in figures}
    if name not in names:
        short = [q.name for q in figures.values()]
        hint = near_names(name, short)
        raise InvalidInput("goal", f"name a figure with derivatives ({hint})", repr(name))
    key = names[name]
    quantity = figures[key]
    now = quantity.differentiable(result)
    if now is None or not math.isfinite(now):
        raise InvalidInput("goal", "name a figure that the motor has", repr(name))
    if way == "kept":
        sense: Mapping[str, Sense] = {"more": "least", "less": "most", "": "equal"}
        return Goal(key, now, now, sense[quantity.better], text)
    if way == "=":
        return Goal(key, _absolute(amount, quantity), now, "equal", text)
    sign = 1.0 if way == "+" else -1.0
    if amount.endswith("%") and quantity.unit != "percent":
        step = abs(now) * _number(amount.removesuffix("%")) / 100
    else:
        step = _absolute(amount, quantity)
    if not step > 0:
        raise InvalidInput("goal", "ask for a change greater than 0", repr(text))
    return Goal(key, now + sign * step, now, "least" if sign > 0 else "most", text)


def _absolute(amount: str, quantity: Quantity[MotorResult]) -> float:
    """Return an amount with its unit in the figure's."""
    kind = quantity.kind or _KINDS.get(quantity.unit, "")
    if not kind:
        return _number(amount)
    return COLUMN_UNITS[quantity.unit].of_si(parse_quantity(amount.strip(), kind, "goal"))


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InvalidInput("goal", "hold a number", repr(text))
    return value
