"""Study files: a question in TOML, every quantity with its unit.

::

    design = "designs/door_woofer_ferrite.toml"     # beside this file
    rules = ["keep_resistance", "keep_clearance"]   # in this order

    [ties]                                          # follower = leader
    "geometry.top_plate_thickness" = "geometry.gap_depth"

    [[sweep]]                                       # every block with every other
    "coil.winding_height" = ["10 mm", "13 mm"]      # a list
    [[sweep]]
    "geometry.gap_depth" = { from = "4 mm", to = "10 mm", steps = 7 }
    [[sweep]]                                       # several lists in a block: values in pairs
    "materials.magnet" = ["Y30", "Y33"]
    "geometry.magnet_thickness" = ["16 mm", "14 mm"]
    [[sweep]]                                       # or a latin hypercube over ranges
    hypercube = 100
    seed = 1
    "geometry.pole_extension" = { from = "1 mm", to = "6 mm" }
    "coil.rest_position" = { from = "-1 mm", to = "1 mm" }

    [measure]                                       # margin to demagnetisation
    coldest = "-30 degC"
    hottest = "100 degC"
    off_centre = true                               # radial pull of parts off centre, N/mm
    assembly = ["top_plate"]                        # force while these are put on: longer
    holding = "50 N"                                # and where it passes this

Instead of ``[[sweep]]``: ``[target]`` with ``[free]`` ranges and ``[choices]`` lists, or
``[tolerances]`` with ``[limits]``.  A target may limit figures of ``summary.json`` by their names
with ``_least`` or ``_most``: ``motor_mass_most``, ``stray_field_at_100_mm_most``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.quantity import Quantity
from motor.base.toml_records import check_keys, quantity, string, table_of, whole
from motor.base.user_files import read_toml
from motor.design.design import Design
from motor.design.reading import read_design
from motor.results.approach import split
from motor.results.quantities import (
    ASSEMBLY,
    AT_TEMPERATURE,
    CENTRING,
    COIL_CURRENT,
    INDUCTANCE,
    force_quantities,
    motor_quantities,
)
from motor.study.evaluate import Measure
from motor.study.parameters import Parameter, parameter_named
from motor.study.plan import Axis, Plan, hypercube, paired, span
from motor.study.problem import Problem
from motor.study.rules import Rule, Tie, rule_named
from motor.study.target import Target, target_kinds
from motor.study.tolerance import Tolerance, tolerance_plan

__all__ = ["StudyFile", "read_study"]

KEYS = (
    "name",
    "design",
    "rules",
    "ties",
    "sweep",
    "measure",
    "target",
    "free",
    "choices",
    "tolerances",
    "limits",
)
MOST_DESIGNS = 100_000
"""Designs of a study unless more are asked for: a day of two cores."""
MOST_SEED = 2**63 - 1
WORDS = ("limited_by", "stiffness_of")
"""What the name of a figure ends in that is words and no number."""
WIDEST = {"number": 0.5, "length": 0.1}
"""Widest tolerance of a factor, and of a length in metres."""
NO_REQUIREMENTS = {
    *("minimise", "maximise", "margin_least", "current", "further", "assembly", "holding"),
    *("inductance_at", "coil_current"),
}
"""Keys of [target] that say how, and nothing that must be reached."""

Limits = Mapping[str, tuple[float | None, float | None]]


@dataclass(frozen=True)
class StudyFile:
    """A study as read: one of plan, problem, and plan with tolerances.

    Parameters
    ----------
    name : str
    design : Design
    measure : Measure
    plan : Plan or None
    problem : Problem or None
    tolerances : tuple of Tolerance
    limits : mapping of column to (low, high)
        In the column's unit.
    """

    name: str
    design: Design
    measure: Measure
    plan: Plan | None = None
    problem: Problem | None = None
    tolerances: tuple[Tolerance, ...] = ()
    limits: Limits = field(default_factory=dict)


def read_study(path: str | Path, *, most_designs: int = MOST_DESIGNS) -> StudyFile:
    """Read a study file; one of more designs than ``most_designs`` is refused by their count.

    Raises
    ------
    InvalidInput
        With the field, the limit and what was found.
    """
    path = Path(path)
    data = read_toml(path, "study file")
    if "geometry" in data and "design" not in data:
        raise InvalidInput(
            "study file", "be a study, not a design (run it with motor solve)", "[geometry]"
        )
    check_keys("", data, KEYS)
    if "design" not in data:
        raise InvalidInput("design", "be given as the path of a design file", "nothing")
    kinds = [key for key in ("sweep", "target", "tolerances") if key in data]
    if len(kinds) != 1:
        found = " and ".join(kinds) or "none"
        raise InvalidInput("study file", "hold one of sweep, target and tolerances", found)
    design = read_design(path.parent / string(data["design"], "design", ""))
    name = string(data.get("name", path.stem), "name", "")
    rules = _rules(design, data)
    measure = _measure(design, table_of(data.get("measure", {}), "measure"))
    for key, needed in (("free", "target"), ("choices", "target"), ("limits", "tolerances")):
        if key in data and needed not in data:
            raise InvalidInput(key, f"come with [{needed}]", f"[{kinds[0]}]")
    if "target" in data:
        return StudyFile(name, design, measure, problem=_problem(design, data, rules, most_designs))
    if "tolerances" in data:
        table = dict(table_of(data["tolerances"], "tolerances"))
        power = table.pop("power", 8)
        seed = whole(table.pop("seed", 0), "seed", 0, MOST_SEED, "tolerances")
        tolerances = tuple(_tolerance(design, key, value) for key, value in table.items())
        plan = tolerance_plan(design, tolerances, power=power, seed=seed, rules=rules)
        limits = _limits(table_of(data.get("limits", {}), "limits"), plan, measure)
        return StudyFile(name, design, measure, plan, tolerances=tolerances, limits=limits)
    blocks = data["sweep"]
    if not isinstance(blocks, list):
        raise InvalidInput("sweep", "be a list [[sweep]]", repr(blocks))
    count = math.prod(_count(table_of(block, "sweep")) for block in blocks)
    _demand_few(count, "sweep", most_designs)
    axes = tuple(_axis(design, table_of(block, "sweep")) for block in blocks)
    return StudyFile(name, design, measure, Plan(design, axes, rules))


def _count(block: dict[str, Any]) -> int:
    """Return how many designs a block of a sweep asks for, before any is made."""
    asked = [block["hypercube"]] if "hypercube" in block else block.values()
    counts: list[Any] = [1]
    for value in asked:
        steps = value.get("steps") if isinstance(value, dict) else value
        counts.append(len(steps) if isinstance(steps, list) else steps)
    return max(n for n in counts if isinstance(n, int))


def _demand_few(count: int, field: str, most: int) -> None:
    if count > most:
        limit = f"have at most {most} designs, or motor study be told --most-designs"
        raise InvalidInput(field, limit, f"{count} designs")


def _rules(design: Design, data: dict[str, Any]) -> tuple[Rule, ...]:
    ties: list[Rule] = []
    for follower, leader in table_of(data.get("ties", {}), "ties").items():
        parameter_named(design, follower)
        parameter_named(design, string(leader, follower, "ties"))
        ties.append(Tie(follower, leader))
    names = data.get("rules", [])
    if not isinstance(names, list):
        raise InvalidInput("rules", "be a list of names", repr(names))
    return (*ties, *(rule_named(string(name, "rules", "")) for name in names))


def _measure(design: Design, table: dict[str, Any]) -> Measure:
    kinds = {
        "coldest": "temperature",
        "hottest": "temperature",
        "current": "current",
        "holding": "force",
        "inductance_at": "frequency",
        "coil_current": "current",
    }
    check_keys("measure", table, [*kinds, "off_centre", "assembly"])
    values: dict[str, Any] = {
        key: quantity(table[key], kinds[key], key, "measure") for key in table if key in kinds
    }
    values["off_centre"] = table.get("off_centre", False)
    if not isinstance(values["off_centre"], bool):
        raise InvalidInput("off_centre", "be true or false", repr(table["off_centre"]), "measure")
    values["assembly"] = _assembly(design, table, "measure")
    if "holding" in values and not values["assembly"]:
        raise InvalidInput("holding", "come with assembly", str(table["holding"]), "measure")
    return Measure(**values)


def _assembly(design: Design, table: Mapping[str, Any], where: str) -> tuple[str, ...]:
    """Return the parts that are put together; InvalidInput where they cannot be."""
    names = table.get("assembly", [])
    if not isinstance(names, list):
        raise InvalidInput("assembly", "be a list of parts", repr(names), where)
    parts = tuple(string(name, "assembly", where) for name in names)
    if parts:
        try:
            split(design.regions, parts, ())
        except InvalidInput as error:
            raise error.within(f"{where}.assembly") from None
    return parts


def _axis(design: Design, block: dict[str, Any]) -> Axis:
    block = dict(block)
    if "hypercube" in block:
        count, seed = block.pop("hypercube"), block.pop("seed", 0)
        whole(seed, "seed", 0, MOST_SEED, "sweep")
        if not block:
            raise InvalidInput("hypercube", "come with ranges of parameters", "none", "sweep")
        ranges = {name: _range(parameter_named(design, name), v) for name, v in block.items()}
        return hypercube(ranges, count, seed=seed)
    if not block:
        raise InvalidInput("sweep", "name a parameter", "an empty block")
    columns = {}
    for name, value in block.items():
        parameter = parameter_named(design, name)
        if isinstance(value, list):
            columns[name] = [parameter.read(item) for item in value]
        else:
            low, high = _range(parameter, value, ("steps",))
            axis = span(name, low, high, value.get("steps", 0))
            columns[name] = [row[0] for row in axis.rows]
    return paired(columns)


def _range(parameter: Parameter, value: object, more: tuple[str, ...] = ()) -> tuple[float, float]:
    """Read { from = ..., to = ... }; InvalidInput if it is empty or reversed."""
    where = f"range of {parameter.name}"
    if not isinstance(value, dict):
        raise InvalidInput(where, "be a table { from = ..., to = ... } or a list", repr(value))
    check_keys(where, value, ["from", "to", *more])
    for key in ("from", "to"):
        if key not in value:
            raise InvalidInput(key, "be given", "nothing", where)
    low, high = parameter.read(value["from"]), parameter.read(value["to"])
    if parameter.kind in ("text", "count"):
        raise InvalidInput(where, "be a list of values for such a parameter", repr(value))
    if not low < high:
        raise InvalidInput(where, "end above its start", f"{value['from']} to {value['to']}")
    return low, high


def _problem(design: Design, data: dict[str, Any], rules: tuple[Rule, ...], most: int) -> Problem:
    table = dict(table_of(data["target"], "target"))
    kinds, fields = target_kinds(), {f.name for f in dataclasses.fields(Target)}
    check_keys("target", table, [*kinds, "minimise", "maximise", "assembly"])
    values: dict[str, Any] = {"further": {}, "assembly": _assembly(design, table, "target")}
    table.pop("assembly", None)
    if "maximise" in table:
        if "minimise" in table:
            raise InvalidInput("maximise", "stand without minimise", "both", "target")
        values["maximise"] = table.pop("maximise")
    if "minimise" in table:
        goals = table.pop("minimise")
        if isinstance(goals, str):
            goals = {goals: 1.0}
        weights = table_of(goals, "target.minimise")
        values["minimise"] = {
            k: quantity(v, None, k, "target.minimise") for k, v in weights.items()
        }
    for key, value in table.items():
        into = values if key in fields else values["further"]
        into[key] = quantity(value, kinds[key], key, "target")
    free = {
        name: _range(parameter_named(design, name), value)
        for name, value in table_of(data.get("free", {}), "free").items()
    }
    choices = {}
    for name, items in table_of(data.get("choices", {}), "choices").items():
        if not isinstance(items, list) or not items:
            raise InvalidInput(name, "be a list of at least one value", repr(items), "choices")
        choices[name] = [parameter_named(design, name).read(item) for item in items]
    if not set(values) - NO_REQUIREMENTS and not values["further"]:
        known = ", ".join(
            f.name for f in dataclasses.fields(Target) if f.name not in NO_REQUIREMENTS
        )
        raise InvalidInput("target", f"ask for at least one of {known}", "none")
    _demand_few(math.prod(map(len, choices.values())), "choices", most)
    return Problem(design, Target(**values), free, rules, choices)


def _measured(measure: Measure) -> list[Quantity[Any]]:
    """Return the figures that a study adds by its measure."""
    given = {"cold": measure.coldest, "hot": measure.hottest}
    found: list[Quantity[Any]] = [
        q for side, at in given.items() if at is not None for q in AT_TEMPERATURE[side]
    ]
    found += CENTRING if measure.off_centre else ()
    found += ASSEMBLY if measure.assembly else ()
    found += INDUCTANCE if measure.inductance_at else ()
    found += COIL_CURRENT if measure.coil_current else ()
    return found


def _tolerance(design: Design, name: str, value: object) -> Tolerance:
    """Read a tolerance: "0.05 mm", 0.03 for a factor, or a table with width and shape."""
    shape = "uniform"
    if isinstance(value, dict):
        check_keys(f"tolerances.{name}", value, ["width", "shape"])
        shape = string(value.get("shape", shape), "shape", f"tolerances.{name}")
        value = value.get("width")
    parameter = parameter_named(design, name)
    if parameter.kind == "temperature":
        raise InvalidInput("tolerances", "leave out the temperature", name)
    width = float(parameter.read(value))
    most = WIDEST.get(parameter.kind)
    if most is not None and not width <= most:
        limit = f"be at most {parameter.text(most)}"
        raise InvalidInput(f"tolerance of {name}", limit, parameter.text(width))
    return Tolerance(name, width, shape)


def _limits(table: dict[str, Any], plan: Plan, measure: Measure) -> Limits:
    """Read limits of result columns: { least = ..., most = ... } in the column's unit."""
    known = [parameter.column for parameter in plan.parameters]
    figures: list[Quantity[Any]] = [*motor_quantities(), *_measured(measure)]
    for one in (*figures, *force_quantities(plan.base.regions)):
        known += [key for key in one.keys if not key.endswith(WORDS)]
    found = {}
    for name, value in table.items():
        where = f"limits.{name}"
        if name not in known:
            limit = f"name figures of results.csv ({near_names(name, known)})"
            raise InvalidInput("limits", limit, repr(name))
        row = table_of(value, where)
        check_keys(where, row, ["least", "most"])
        low, high = (
            quantity(row[key], None, key, where) if key in row else None
            for key in ("least", "most")
        )
        if low is None and high is None:
            raise InvalidInput(where, "give least or most", "neither")
        if low is not None and high is not None and low > high:
            raise InvalidInput(where, "have least at most as large as most", f"{low} to {high}")
        found[name] = (low, high)
    return found
