"""The part of a study file that is about a production: tolerances, lots, correlations, limits.

::

    [tolerances]                                    # largest deviation to either side
    power = 6                                       # 2^6 motors are drawn
    seed = 0
    "factors.remanence" = 0.01
    "geometry.pole_diameter" = { width = "0.05 mm", shape = "normal" }
    "geometry.top_plate_inner_diameter" = { width = "0.05 mm", shape = "normal" }

    [lots.magnets]                                  # one shift of all motors of a lot, beside them
    shape = "normal"                                # from lot to lot; "uniform" unless told
    "factors.remanence" = 0.02
    "geometry.magnet_thickness" = "-0.1 mm"         # the other way when the first goes up

    [[correlations]]                                # of two tolerances: one turned part
    between = ["geometry.pole_diameter", "geometry.top_plate_inner_diameter"]
    coefficient = 0.7

    [limits]
    bl_at_rest_Tm = { least = 6.0, deviation = 0.03, guard = 2 }    # tested with an error
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.quantity import Quantity
from motor.base.toml_records import check_keys, quantity, string, table_of, whole
from motor.design.design import Design
from motor.results.quantities import (
    ASSEMBLY,
    AT_TEMPERATURE,
    CENTRING,
    COIL_CURRENT,
    INDUCTANCE,
    TONE,
    force_quantities,
    motor_quantities,
)
from motor.study.evaluate import Measure
from motor.study.guarding import Limits, Station
from motor.study.parameters import parameter_named
from motor.study.plan import Plan
from motor.study.production import Correlation, Lot, Production, Tolerance

__all__ = ["HIGHEST_SEED", "WIDEST", "read_limits", "read_production"]

HIGHEST_SEED = 2**63 - 1
WORDS = ("limited_by", "stiffness_of")
"""What the name of a figure ends in that is words and no number."""
WIDEST = {"number": 0.5, "length": 0.1}
"""Widest tolerance of a factor, and of a length in metres."""


def read_production(design: Design, data: Mapping[str, Any]) -> Production:
    """Read [tolerances], [lots] and [[correlations]] of a study file."""
    table = dict(table_of(data["tolerances"], "tolerances"))
    power = table.pop("power", 8)
    seed = whole(table.pop("seed", 0), "seed", 0, HIGHEST_SEED, "tolerances")
    tolerances = tuple(_tolerance(design, key, value) for key, value in table.items())
    lots = tuple(
        _lot(design, name, table_of(value, f"lots.{name}"))
        for name, value in table_of(data.get("lots", {}), "lots").items()
    )
    pairs = data.get("correlations", [])
    if not isinstance(pairs, list):
        raise InvalidInput("correlations", "be a list [[correlations]]", repr(pairs))
    correlations = tuple(_correlation(table_of(pair, "correlations")) for pair in pairs)
    return Production(tolerances, lots, correlations, power, seed)


def _tolerance(design: Design, name: str, value: object) -> Tolerance:
    """Read a tolerance: "0.05 mm", 0.03 for a factor, or a table with width and shape."""
    shape = "uniform"
    if isinstance(value, dict):
        check_keys(f"tolerances.{name}", value, ["width", "shape"])
        shape = string(value.get("shape", shape), "shape", f"tolerances.{name}")
        value = value.get("width")
    return Tolerance(name, _width(design, name, value, "tolerances"), shape)


def _width(design: Design, name: str, value: object, where: str) -> float:
    """Read how far a parameter goes to either side; of either sign."""
    parameter = parameter_named(design, name)
    if parameter.kind in ("temperature", "text", "count"):
        limit = "leave out the temperature"
        limit = limit if parameter.kind == "temperature" else "name parameters that vary smoothly"
        raise InvalidInput(where, limit, name)
    width = float(parameter.read(value))
    most = WIDEST.get(parameter.kind)
    if most is not None and not abs(width) <= most:
        limit = f"be at most {parameter.text(most)}"
        what = "tolerance" if where == "tolerances" else f"shift by {where}"
        raise InvalidInput(f"{what} of {name}", limit, parameter.text(width))
    return width


def _lot(design: Design, name: str, table: dict[str, Any]) -> Lot:
    """Read a lot: shape, and how far it shifts each parameter."""
    where, table = f"lots.{name}", dict(table)
    shape = string(table.pop("shape", "uniform"), "shape", where)
    return Lot(name, {key: _width(design, key, v, where) for key, v in table.items()}, shape)


def _correlation(table: dict[str, Any]) -> Correlation:
    """Read a correlation: the two tolerances, and the coefficient."""
    check_keys("correlations", table, ["between", "coefficient"])
    names = table.get("between")
    if not (isinstance(names, list) and len(names) == 2):
        raise InvalidInput("between", "be a list of two tolerances", repr(names), "correlations")
    first, second = (string(name, "between", "correlations") for name in names)
    if "coefficient" not in table:
        raise InvalidInput("coefficient", "be given, from -1 to 1", "nothing", "correlations")
    value = quantity(table["coefficient"], None, "coefficient", "correlations")
    return Correlation(first, second, value)


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
    found += TONE if measure.tone_at else ()
    return found


def read_limits(
    table: dict[str, Any], plan: Plan, measure: Measure
) -> tuple[Limits, dict[str, Station]]:
    """Read limits of result columns: { least = ..., most = ... } in the column's unit.

    With the standard deviation of the station's error, and the guard band in multiples of it.
    """
    known = [parameter.column for parameter in plan.parameters]
    figures: list[Quantity[Any]] = [*motor_quantities(), *_measured(measure)]
    for one in (*figures, *force_quantities(plan.base.regions)):
        known += [key for key in one.keys if not key.endswith(WORDS)]
    found, stations = {}, {}
    for name, value in table.items():
        where = f"limits.{name}"
        if name not in known:
            limit = f"name figures of results.csv ({near_names(name, known)})"
            raise InvalidInput("limits", limit, repr(name))
        row = table_of(value, where)
        check_keys(where, row, ["least", "most", "deviation", "guard"])
        low, high = (
            quantity(row[key], None, key, where) if key in row else None
            for key in ("least", "most")
        )
        if low is None and high is None:
            raise InvalidInput(where, "give least or most", "neither")
        if low is not None and high is not None and low > high:
            raise InvalidInput(where, "have least at most as large as most", f"{low} to {high}")
        found[name] = (low, high)
        numbers = {
            key: quantity(row[key], None, key, where)
            for key in ("deviation", "guard")
            if key in row
        }
        if "guard" in numbers and "deviation" not in numbers:
            raise InvalidInput("guard", "come with deviation", str(row["guard"]), where)
        if numbers:
            try:
                stations[name] = Station(**numbers)
                stations[name].limits(low, high)
            except InvalidInput as error:
                raise error.within(where) from None
    return found, stations
