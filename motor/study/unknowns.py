"""What is not known of a sample: parameters of the design with normal priors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput
from motor.base.toml_records import check_keys, string, table_of
from motor.design.design import Design
from motor.study.parameters import Draft, Parameter, parameter_named
from motor.study.production_file import WIDEST
from motor.study.study_file import read_study

__all__ = [
    "PERMEABILITY",
    "TURNS",
    "Unknown",
    "read_unknowns",
    "smooth_parameter",
    "with_motion",
]

TURNS = "factors.turns"
"""Turns as wound over turns as drawn."""
PERMEABILITY = "factors.permeability"
"""Reversible permeability of every steel over its table's: of small alternating fields."""
MOST = 30
"""Unknowns of one sample."""
STIFFNESS = "factors.stiffness"
MOTION = {STIFFNESS: 0.1, "mass": 0.02, "mechanical_resistance": 0.3}
"""What an impedance shows of the parts that move, and by what share a sample's differs from the
drawing (standard deviations; common practice, no source)."""
MASSES = ("mass", "total_mass", "cone_mass", "surround_mass", "other_mass")


@dataclass(frozen=True)
class Unknown:
    """Something that a sample may have different from its drawing.

    Parameters
    ----------
    parameter : Parameter
        Name (dotted; several equal ones with " + " between) and kind of quantity.
    prior, deviation : float
        What is expected and its standard deviation, SI.
    """

    parameter: Parameter
    prior: float
    deviation: float

    @property
    def name(self) -> str:
        """Its dotted name."""
        return self.parameter.name


def read_unknowns(folder: Path, data: dict[str, Any], design: Design) -> tuple[Unknown, ...]:
    """Return the unknowns of a measurement file, those of a study's tolerances first."""
    found = []
    if "tolerances" in data:
        found = _of_tolerances(design, folder, data["tolerances"])
    given = table_of(data.get("unknowns", {}), "unknowns")
    own = [_unknown(design, name, value) for name, value in given.items()]
    named = {u.name for u in own}
    found = [u for u in found if u.name not in named] + own
    if not 1 <= len(found) <= MOST:
        raise InvalidInput("unknowns", f"name 1 to {MOST} parameters", len(found))
    return tuple(found)


def _of_tolerances(design: Design, folder: Path, value: object) -> list[Unknown]:
    """Return what scatters in a study as unknowns, lots and tolerances together, uncorrelated."""
    production = read_study(folder / string(value, "tolerances", "")).production
    if production is None:
        raise InvalidInput("tolerances", "name a study with [tolerances]", repr(value))
    return [
        Unknown(
            parameter_named(design, name),
            float(Draft(design).get(name)),
            production.standard_deviation(name),
        )
        for name in production.parameters
    ]


def _unknown(design: Design, name: str, value: object) -> Unknown:
    parameter = smooth_parameter(design, name)
    where = f"unknowns.{name}"
    table = value if isinstance(value, dict) else {"deviation": value}
    check_keys(where, table, ["prior", "deviation"])
    if "deviation" not in table:
        raise InvalidInput(where, "give its standard deviation", "nothing")
    if parameter.kind == "temperature":
        raise InvalidInput("unknowns", "leave out the temperature: state it in the design", name)
    try:
        deviation = float(parameter.read(table["deviation"]))
    except InvalidInput as error:
        raise error.within(where) from None
    most = WIDEST.get(parameter.kind, math.inf)
    if not 0 < deviation <= most:
        limit = "be greater than 0" + (f" and at most {parameter.text(most)}" if most < 1e9 else "")
        raise InvalidInput(f"deviation of {name}", limit, parameter.text(deviation))
    first = name.split(" + ")[0]
    drawn = 1.0 if first in (TURNS, PERMEABILITY) else Draft(design).get(first)
    if isinstance(drawn, bool) or not isinstance(drawn, int | float):
        raise InvalidInput("unknowns", "name parameters that the design gives as a number", name)
    prior = parameter.read(table["prior"]) if "prior" in table else drawn
    return Unknown(parameter, float(prior), deviation)


def smooth_parameter(design: Design, name: str) -> Parameter:
    """Return what may be unknown of a design by name; InvalidInput for what goes in steps."""
    if name == TURNS:
        if design.coil.windings > 1:
            raise InvalidInput("unknowns", f"leave {TURNS} out for several windings", name)
        return Parameter(name, "number")
    if name == PERMEABILITY:
        return Parameter(name, "number")
    kinds = [parameter_named(design, one).kind for one in name.split(" + ")]
    if kinds[0] in ("text", "count") or len(set(kinds)) > 1:
        raise InvalidInput("unknowns", "name numbers that vary smoothly, of one kind", name)
    return Parameter(name, kinds[0])


def with_motion(design: Design, unknowns: Sequence[Unknown]) -> tuple[Unknown, ...]:
    """Return the unknowns and what an impedance shows of the parts that move, unless named.

    Taken as drawn they would make an impedance tell Bl far too well: its peak is Bl^2 over the
    mechanical resistance.  Of a mass given by its parts the largest differs.
    """
    parts = design.moving_parts
    assert parts is not None
    assert parts.mechanical_resistance is not None
    named = {one for u in unknowns for one in u.name.split(" + ")}
    masses = {key: getattr(parts, key) or 0.0 for key in MASSES}
    heaviest = max(masses, key=lambda key: masses[key])
    wanted = {
        STIFFNESS: ({STIFFNESS, "moving_parts.stiffness"}, MOTION[STIFFNESS]),
        f"moving_parts.{heaviest}": (
            {f"moving_parts.{key}" for key in MASSES},
            MOTION["mass"] * parts.moving_mass(design.coil),
        ),
        "moving_parts.mechanical_resistance": (
            {"moving_parts.mechanical_resistance"},
            MOTION["mechanical_resistance"] * parts.mechanical_resistance,
        ),
    }
    more = [
        Unknown(parameter_named(design, name), float(Draft(design).get(name)), deviation)
        for name, (equal, deviation) in wanted.items()
        if not equal & named
    ]
    return (*unknowns, *more)
