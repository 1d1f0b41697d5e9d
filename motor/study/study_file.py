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

A target may move the points of a drawn part, within rules of machining::

    [[contour]]
    part = "yoke"
    points = [5, 6, 7, 8]                           # of its outline, counted from 1
    # along = [5, 6]                                # or new ones on the edge between two of them
    # count = 6
    reach = "1.5 mm"                                # of each coordinate, to either side
    cuts = "straight"                               # or "square": along axis and radius only
    least_radius = "0.3 mm"                         # between cuts
    least_wall = "2 mm"                             # behind them

Instead of ``[[sweep]]``: ``[target]`` with ``[free]`` ranges and ``[choices]`` lists, or
``[tolerances]`` with ``[lots]``, ``[[correlations]]`` and ``[limits]`` (``production_file.py``).  A
target may limit figures of ``summary.json`` by their names with ``_least`` or ``_most``:
``motor_mass_most``, ``stray_field_at_100_mm_most``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput
from motor.base.toml_records import check_keys, quantity, string, table_of, whole
from motor.base.user_files import read_toml
from motor.design.design import Design
from motor.design.reading import read_design
from motor.results.approach import split
from motor.study.contours import free_contours, read_contours
from motor.study.evaluate import Measure
from motor.study.guarding import Limits, Station
from motor.study.parameters import Parameter, parameter_named
from motor.study.plan import Axis, Plan, hypercube, paired, span
from motor.study.problem import Problem
from motor.study.production import Production
from motor.study.production_file import HIGHEST_SEED, read_limits, read_production
from motor.study.rules import Rule, Tie, rule_named
from motor.study.target import GOALS, Target, sized_figures, target_kinds
from motor.study.tolerance import tolerance_plan

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
    "contour",
    "tolerances",
    "lots",
    "correlations",
    "limits",
)
NEEDED = {
    **dict.fromkeys(("free", "choices", "contour"), "target"),
    **dict.fromkeys(("lots", "correlations", "limits"), "tolerances"),
}
"""Sections that only come with another."""
MOST_DESIGNS = 100_000
"""Designs of a study unless more are asked for: a day of two cores."""
NO_REQUIREMENTS = {
    *(
        "minimise",
        "maximise",
        "minimise_figure",
        "margin_least",
        "current",
        "further",
        "assembly",
        "holding",
    ),
    *("inductance_at", "coil_current", "tone_at", "tone_voltage"),
}
"""Keys of [target] that say how, and nothing that must be reached."""


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
    production : Production or None
        Of a plan with tolerances.
    limits : mapping of column to (low, high)
        In the column's unit.
    stations : mapping of column to Station
        How limits are tested, where they are with an error.
    """

    name: str
    design: Design
    measure: Measure
    plan: Plan | None = None
    problem: Problem | None = None
    production: Production | None = None
    limits: Limits = field(default_factory=dict)
    stations: Mapping[str, Station] = field(default_factory=dict)


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
    for key, needed in NEEDED.items():
        if key in data and needed not in data:
            raise InvalidInput(key, f"come with [{needed}]", f"[{kinds[0]}]")
    if "target" in data:
        problem = _problem(design, data, rules, most_designs)
        return StudyFile(name, problem.base, measure, problem=problem)
    if "tolerances" in data:
        production = read_production(design, data)
        plan = tolerance_plan(design, production, rules=rules)
        limits, stations = read_limits(table_of(data.get("limits", {}), "limits"), plan, measure)
        return StudyFile(
            name,
            design,
            measure,
            plan,
            production=production,
            limits=limits,
            stations=stations,
        )
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
        "tone_at": "frequency",
        "tone_voltage": "voltage",
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
    if ("tone_at" in values) != ("tone_voltage" in values):
        raise InvalidInput("tone_at", "come with tone_voltage", "one of them", "measure")
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
        whole(seed, "seed", 0, HIGHEST_SEED, "sweep")
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
    check_keys("target", table, [*kinds, "minimise", "maximise", "assembly", "band"])
    if "band" in table:
        band = quantity(table.pop("band"), "length", "band", "target")
        design = design.replace(stroke=dataclasses.replace(design.stroke, band=band))
    values: dict[str, Any] = {"further": {}, "assembly": _assembly(design, table, "target")}
    table.pop("assembly", None)
    if "maximise" in table:
        if "minimise" in table:
            raise InvalidInput("maximise", "stand without minimise", "both", "target")
        values["maximise"] = table.pop("maximise")
    if "minimise" in table:
        goals = table.pop("minimise")
        if isinstance(goals, str) and goals not in GOALS and goals in sized_figures():
            values["minimise_figure"], goals = goals, {"mass": 1.0}
        elif isinstance(goals, str):
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
    design, contours = read_contours(design, data.get("contour", []))
    if contours:
        design, moving = free_contours(design, contours)
        free |= moving
    return Problem(design, Target(**values), free, rules, choices, contours)
