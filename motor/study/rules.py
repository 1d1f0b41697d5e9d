"""Rules that tie parameters: what follows when others change.

A rule takes a :class:`~motor.study.parameters.Draft` and returns it with further changes.  Rules
run in the order in which they are given, after the swept values were set.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from geometries import free_gap, millimetres, outer_size
from motor.base.errors import InvalidInput
from motor.base.names import pick
from motor.design.coil import Coil
from motor.design.wire import FlatWire, Wire
from motor.design.wire_choice import nearest_wires
from motor.materials import conductor_named
from motor.study.parameters import WINDINGS, Draft

__all__ = [
    "RULES",
    "Rule",
    "Tie",
    "keep_clearance",
    "keep_envelope",
    "keep_overhang",
    "keep_plate_load",
    "keep_resistance",
    "keep_resonance",
    "keep_shape",
    "rule_named",
    "tie",
]

T = TypeVar("T")
Rule = Callable[[Draft], Draft]
NEAR_TURNS = 4
"""How many turns in a layer more or fewer are tried where a coil has parts."""


def _demand(declared: T, draft: Draft, rule: str, what: str) -> T:
    """Return what a geometry declares; InvalidInput where it declares nothing."""
    if not declared:
        raise InvalidInput(
            rule, f"be used with a geometry that declares {what}", draft.base.geometry.kind
        )
    return declared


@dataclass(frozen=True)
class Tie:
    """The rule: follower = times * leader + plus (SI)."""

    follower: str
    leader: str
    plus: float = 0.0
    times: float = 1.0

    def __call__(self, draft: Draft) -> Draft:
        """Apply the rule."""
        value = self.times * draft.get(self.leader) + self.plus
        return draft.having({self.follower: value})


def tie(follower: str, leader: str, plus: float = 0.0, times: float = 1.0) -> Rule:
    """Return the rule: follower = times * leader + plus (SI)."""
    return Tie(follower, leader, plus, times)


def keep_resistance(draft: Draft, resistance: float | None = None, *, series: str = "") -> Draft:
    """Choose the wire so that the coil has the base's resistance at 20 degC (or a given one).

    Parameters
    ----------
    draft : Draft
    resistance : float or None
        Ohm.
    series : str
        "" for wire drawn to measure: whole turns fill the winding height, the bare diameter
        gives the resistance exactly, and the number of turns is the one whose enamel comes
        nearest to the base's share; of a coil in parts the main winding is filled, and every
        wire scaled in the same ratio.  "metric" or "awg" for the nearest size of a series.

    Raises
    ------
    InvalidInput
        If no wire does.
    """
    wanted = draft.base.coil.resistance() if resistance is None else resistance
    if series:
        for choice in nearest_wires(draft.base.replace(coil=draft.coil()), wanted, series=series):
            return _with_wire(draft, choice.coil.wire)
    coil = draft.coil()
    if not all(isinstance(one.wire, Wire) for one in coil.each):
        raise InvalidInput("keep_resistance", "meet round wire", "flat wire")
    if coil.parts:
        return _with_wires(draft, coil, wanted)
    assert isinstance(coil.wire, Wire)
    share = coil.wire.bare_diameter / coil.wire.overall_diameter
    best: tuple[float, Wire] | None = None
    for turns in _turn_counts(coil, wanted, share):
        overall = coil.winding_height / turns * (1 - 1e-9)
        radius = coil.inner_radius + coil.layers * overall / 2
        length = 2 * math.pi * radius * turns * coil.layers
        parallel = coil.windings**2 if coil.connection == "parallel" else 1
        resistivity = conductor_named(coil.wire.material).resistivity_at(293.15)
        bare = math.sqrt(4 * resistivity * length / (math.pi * wanted * parallel))
        miss = abs(bare / overall - share)
        if bare < overall and (best is None or miss < best[0]):
            wire = Wire(material=coil.wire.material, bare_diameter=bare, overall_diameter=overall)
            best = miss, wire
    if best is None:
        raise InvalidInput(
            "keep_resistance",
            f"leave a wire for {wanted:.4g} ohm in {coil.layers} layers",
            f"a winding height of {millimetres(coil.winding_height)}",
        )
    return _with_wire(draft, best[1])


def _turn_counts(coil: Coil, resistance: float, share: float) -> list[int]:
    """Return the numbers of turns in a layer near the one that keeps the enamel's share."""
    resistivity = conductor_named(coil.wire.material).resistivity_at(293.15)
    parallel = coil.windings**2 if coil.connection == "parallel" else 1
    height = coil.winding_height
    around = 8 * resistivity * coil.mean_radius * coil.layers / (resistance * parallel)
    count = (height**2 * share**2 / around) ** (1 / 3)
    step = coil.windings if coil.layers % coil.windings else 1
    middle = max(1, round(count / step))
    return [n * step for n in range(max(1, middle - 3), middle + 4)]


def _with_wires(draft: Draft, coil: Coil, wanted: float) -> Draft:
    """Return the draft with all wires of a coil in parts scaled so that it has a resistance (ohm).

    Turns over bare section go with the third power of the turns in a layer.
    """
    middle = round(coil.turns_per_layer * (wanted / coil.resistance()) ** (1 / 3))
    best: tuple[float, float, float] | None = None
    for turns in range(max(1, middle - NEAR_TURNS), middle + NEAR_TURNS + 1):
        size = coil.winding_height / turns * (1 - 1e-9) / coil.wire.pitch
        try:
            bare = math.sqrt(_scaled(coil, size, size).resistance() / wanted)
            _scaled(coil, size, size * bare)
        except InvalidInput:
            continue
        miss = abs(math.log(bare))
        if best is None or miss < best[0]:
            best = miss, size, size * bare
    if best is None:
        limit = f"leave wires for {wanted:.4g} ohm in all parts"
        raise InvalidInput("keep_resistance", limit, "none")
    new = _scaled(coil, *best[1:])
    wires = {"coil.wire": new.wire}
    wires |= {f"{WINDINGS}{part.name}.wire": part.wire for part in new.parts if part.wire}
    changes = {}
    for section, wire in wires.items():
        assert isinstance(wire, Wire)
        changes[f"{section}.bare_diameter"] = wire.bare_diameter
        changes[f"{section}.overall_diameter"] = wire.overall_diameter
    return draft.having(changes)


def _scaled(coil: Coil, overall: float, bare: float) -> Coil:
    """Return a coil with the diameters of all its wires, overall and bare, times factors."""

    def scaled(wire: Wire | FlatWire) -> Wire:
        assert isinstance(wire, Wire)
        return dataclasses.replace(
            wire,
            bare_diameter=bare * wire.bare_diameter,
            overall_diameter=overall * wire.overall_diameter,
        )

    parts = tuple(
        dataclasses.replace(part, wire=scaled(part.wire)) if part.wire else part
        for part in coil.parts
    )
    found = dataclasses.replace(coil, wire=scaled(coil.wire), parts=parts)
    _ = found.each  # each part holds a turn
    return found


def _with_wire(draft: Draft, wire: object) -> Draft:
    return draft.having(
        {
            "coil.wire.bare_diameter": getattr(wire, "bare_diameter"),  # noqa: B009
            "coil.wire.overall_diameter": getattr(wire, "overall_diameter"),  # noqa: B009
        }
    )


def keep_clearance(draft: Draft) -> Draft:
    """Set the gap's two radii so that the coil keeps the base's clearance on either side.

    The coil's bore leads: the pole follows it, the gap's width follows former and winding.
    """
    base, coil = draft.base, draft.coil()
    inner, outer = free_gap(base.regions, base.geometry.gap)
    sleeve = inner - base.geometry.gap.inner_radius
    lining = base.geometry.gap.outer_radius - outer
    pole = coil.inner_diameter / 2 - (base.coil.inner_diameter / 2 - inner) - sleeve
    wall = coil.outer_radius + (outer - base.coil.outer_radius) + lining
    lengths = base.geometry.with_gap(pole, wall, lambda name: float(draft.get(f"geometry.{name}")))
    changes = _demand(lengths, draft, "keep_clearance", "which lengths set its gap's radii")
    return draft.having({f"geometry.{name}": round(v, 9) for name, v in changes.items()})


def keep_shape(draft: Draft) -> Draft:
    """Keep the distances of magnet and cup from the gap's radii where those have moved."""
    follows = _demand(
        draft.base.geometry.roles.follows, draft, "keep_shape", "which diameters follow which"
    )
    changes = {}
    for name, leader in follows.items():
        follower, lead = f"geometry.{name}", f"geometry.{leader}"
        if follower not in draft.changes:
            base = Draft(draft.base)
            changes[follower] = base.get(follower) + draft.get(lead) - base.get(lead)
    return draft.having(changes)


def keep_envelope(draft: Draft) -> Draft:
    """Keep the base's outer diameter and height: outer diameters and the magnet give way."""
    wanted = outer_size(draft.base.regions)
    roles = draft.base.geometry.roles
    outer = _demand(roles.outer, draft, "keep_envelope", "its outer diameters")
    names = [f"geometry.{n}" for n in outer]
    gives = _demand(roles.height, draft, "keep_envelope", "the length that its height gives way in")
    wide = max(draft.get(name) for name in names)
    draft = draft.having({name: draft.get(name) + wanted[0] - wide for name in names})
    height = outer_size(draft.geometry().regions())[1]
    thickness = draft.get(f"geometry.{gives}") + wanted[1] - height
    if not thickness > 0:
        raise InvalidInput(
            "keep_envelope", f"leave room for {gives.replace('_', ' ')}", millimetres(thickness)
        )
    return draft.having({f"geometry.{gives}": round(thickness, 9)})


def keep_plate_load(draft: Draft) -> Draft:
    """Scale back plate or floor with the gap depth.

    At the same flux density in the gap the flux that the plate carries at the pole's edge grows
    with the gap depth, so its mean flux density there stays the base's.
    """
    share = draft.geometry().gap.depth / draft.base.geometry.gap.depth
    base = Draft(draft.base)
    plates = draft.base.geometry.roles.flux_plates
    plates = _demand(plates, draft, "keep_plate_load", "the plates that carry its flux")
    names = [f"geometry.{n}" for n in plates]
    return draft.having({n: base.get(n) * share for n in names if n not in draft.changes})


def keep_overhang(draft: Draft) -> Draft:
    """Keep the base's overhang: the winding grows with the gap."""
    height = draft.geometry().gap.depth + 2 * draft.base.overhang
    return draft.having({"coil.winding_height": height})


def keep_resonance(draft: Draft) -> Draft:
    """Set the suspension's stiffness so that the resonance stays the base's."""
    base, parts = draft.base.moving_parts, draft.moving_parts()
    if base is None or parts is None:
        raise InvalidInput("keep_resonance", "meet a design with [moving_parts]", "none")
    share = parts.moving_mass(draft.coil()) / base.moving_mass(draft.base.coil)
    factor = draft.get("factors.stiffness")
    stiffness = base.stiffness_at_rest * share
    return draft.having({"factors.stiffness": factor * stiffness / parts.stiffness_at_rest})


RULES: dict[str, Rule] = {
    "keep_resistance": keep_resistance,
    "keep_clearance": keep_clearance,
    "keep_shape": keep_shape,
    "keep_envelope": keep_envelope,
    "keep_plate_load": keep_plate_load,
    "keep_overhang": keep_overhang,
    "keep_resonance": keep_resonance,
}
"""Rules by the name they have in study files."""


def rule_named(name: str) -> Rule:
    """Return a rule; InvalidInput with the near names if there is none."""
    return pick(RULES, name, "rule")
