"""Turns as a real number: the smooth problem beside a target search's own.

Whole turns make every figure of a search jump.  Here the number of turns follows winding height
and wire without a jump, and a wire that is drawn for a resistance has the enamel's share of the
base exactly.  Between two jumps the search's own designs are smooth as well.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.design.wire import Wire
from motor.materials import conductor_named
from motor.study.forward import wound
from motor.study.parameters import Draft
from motor.study.plan import Plan
from motor.study.problem import Problem
from motor.study.rules import Rule, keep_resistance

__all__ = ["NoDescentError", "Relaxed", "relaxed"]

EDGE = 0.02
"""Turns that are kept from a jump."""


class NoDescentError(MotorError):
    """A search that cannot be done by derivatives, with the reason."""


@dataclass(frozen=True)
class Relaxed:
    """The designs of a problem with turns as a real number.

    Parameters
    ----------
    plan : Plan
        Builds them.
    nearest : bool
        Whether whole turns are the nearest to the real number, as for a wire that is drawn for a
        resistance; the next lower ones if not.
    """

    plan: Plan
    nearest: bool

    def build(self, values: Mapping[str, Any]) -> Design:
        """Return a design; InvalidInput if there is none."""
        return self.plan.build(values)

    def turns(self, values: Mapping[str, Any]) -> float:
        """Return the turns of one layer."""
        coil = self.build(values).coil
        return coil.turns / coil.layers

    def between(self, whole: int) -> tuple[float, float]:
        """Return between which real numbers a layer has so many whole turns."""
        low, high = (whole - 0.5, whole + 0.5) if self.nearest else (whole, whole + 1)
        return low + EDGE * self.nearest, high - EDGE


def relaxed(problem: Problem) -> Relaxed:
    """Return a problem's designs with turns as a real number.

    Raises
    ------
    NoDescentError
    """
    coil = problem.base.coil
    names = {*problem.free, *problem.choices}
    if coil.parts or any(name.startswith("coil.parts.") for name in names):
        raise NoDescentError("the coil has several parts, whose turns are whole numbers")
    if coil.windings > 1 or "coil.windings" in names:
        raise NoDescentError("several windings share the turns, which are whole numbers")
    rules: list[Rule] = []
    nearest = False
    for rule in problem.plan.rules:
        inner = rule.func if isinstance(rule, functools.partial) else rule
        if inner is not keep_resistance:
            rules.append(rule)
            continue
        options = dict(rule.keywords) if isinstance(rule, functools.partial) else {}
        if options.pop("series", ""):
            raise NoDescentError("the wire comes in the sizes of a series")
        given = rule.args[0] if isinstance(rule, functools.partial) and rule.args else None
        resistance = options.pop("resistance", given)
        rules.append(functools.partial(_drawn_wire, resistance=resistance))
        nearest = True
    plan = Plan(wound(problem.base), (), (*rules, _filled), problem.contours)
    return Relaxed(plan, nearest)


def _filled(draft: Draft) -> Draft:
    """Fill the winding height with turns."""
    coil = draft.coil()
    return draft.having({"coil.wound": coil.layers * coil.winding_height / coil.wire.pitch})


def _drawn_wire(draft: Draft, resistance: float | None) -> Draft:
    """Draw the wire so that a full winding has a resistance (ohm), enamel as in the base.

    With h = winding height, s = bare over overall diameter, n turns in each of L layers on the
    radius a: resistance times (s h / n)^2 / 8 = resistivity (a + L h / 2 n) n L.
    """
    wanted = draft.base.coil.resistance() if resistance is None else resistance
    coil = draft.coil()
    if not isinstance(coil.wire, Wire):
        raise InvalidInput("keep_resistance", "meet round wire", "flat wire")
    share = coil.wire.bare_diameter / coil.wire.overall_diameter
    resistivity = conductor_named(coil.wire.material).resistivity_at(293.15)
    height, radius, layers = coil.winding_height, coil.inner_radius, coil.layers
    whole = wanted * (share * height) ** 2 / (8 * resistivity * layers)
    turns = (whole / radius) ** (1 / 3)
    for _ in range(50):
        miss = turns**2 * (radius * turns + layers * height / 2) - whole
        step = miss / (turns * (3 * radius * turns + layers * height))
        turns -= step
        if abs(step) < 1e-12 * turns:
            break
    if not (math.isfinite(turns) and turns >= 1):
        raise InvalidInput("keep_resistance", f"leave a wire for {wanted:.4g} ohm", "none")
    overall = height / turns
    return draft.having(
        {"coil.wire.bare_diameter": share * overall, "coil.wire.overall_diameter": overall}
    )
