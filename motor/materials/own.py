"""A designer's own magnets and steels, from the design file or a CSV file beside it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geometries import InvalidInput
from motor.base.constants import MU0
from motor.base.ranges import check_number, check_ranges
from motor.base.toml_records import check_keys, quantity, string, table_of
from motor.base.user_files import numbered_rows, read_text
from motor.materials import Magnet, TabulatedSteel

__all__ = ["OWN_MAGNET", "own_magnet", "own_steel", "read_curve", "table_rows"]


DENSITY = (100.0, 30_000.0, "density")
PRICE = (0.0, 1e9, None)
MAGNET_RANGES = {"density": DENSITY, "price": PRICE}
MOST_SATURATION = 3.0
"""Tesla; that of iron with cobalt is 2.4 T."""
LEAST_SHARE = 0.95
"""Saturation at least, over the polarisation that the table's last row has reached."""
STEEL_RANGES = {
    "density": DENSITY,
    "conductivity": (0.0, 1e8, "conductivity"),
    "conductivity_spread": (0.0, 1.0, None),
    "temperature_coefficient": (-0.02, 0.02, "per_kelvin"),
    "initial_permeability": (1.0, 1e6, None),
    "initial_spread": (1.0, 100.0, None),
    "coercivity": (0.1, 1e5, "field_strength"),
    "price": PRICE,
}


def _check_values(record: object, ranges: Mapping[str, Any], where: str) -> None:
    try:
        check_ranges(record, ranges)
    except InvalidInput as error:
        raise error.within(where) from None


def table_rows(value: object, where: str) -> list[dict[str, Any]]:
    """Return a value that must be a list of tables."""
    if not isinstance(value, list):
        raise InvalidInput(where, f"be a list [[{where}]]", repr(value))
    return [table_of(row, where) for row in value]


OWN_MAGNET = {
    "remanence": "flux_density",
    "remanence_min": "flux_density",
    "recoil_permeability": None,
    "temperature_coefficient": "per_kelvin",
    "temperature_coefficient_2": "per_kelvin_squared",
    "intrinsic_coercivity": "field_strength",
    "intrinsic_coercivity_min": "field_strength",
    "coercivity_coefficient": "per_kelvin",
    "coercivity_coefficient_2": "per_kelvin_squared",
    "squareness": None,
    "coldest": "temperature",
    "hottest": "temperature",
    "curie": "temperature",
    "density": "density",
    "conductivity": "conductivity",
    "price": None,
}
"""Keys of a designer's own magnet and the kind of quantity each is; None for a plain number."""


def own_magnet(row: dict[str, Any]) -> Magnet:
    """Read a magnet grade of the designer's own."""
    where = "materials.own_magnets"
    check_keys(where, row, ["name", "source", *OWN_MAGNET])
    for key in ("name", "remanence", "recoil_permeability", "density"):
        if key not in row:
            raise InvalidInput(key, "be given", "nothing", where)
    values: dict[str, Any] = {k: string(row[k], k, where) for k in ("name", "source") if k in row}
    for key, kind in OWN_MAGNET.items():
        if key in row:
            values[key] = quantity(row[key], kind, key, where)
    try:
        magnet = Magnet(**values)
    except InvalidInput as error:
        raise error.within(where) from None
    _check_values(magnet, MAGNET_RANGES, where)
    return magnet


OWN_STEEL = {
    "conductivity_spread": None,
    "temperature_coefficient": "per_kelvin",
    "initial_permeability": None,
    "initial_spread": None,
    "coercivity": "field_strength",
    "price": None,
}
"""Further keys of a designer's own steel and the kind of quantity each is."""


def own_steel(row: dict[str, Any], folder: Path) -> TabulatedSteel:
    """Read a steel whose rows stand in the design file or in a CSV file beside it."""
    where = "materials.own_steels"
    check_keys(
        where,
        row,
        [
            "name",
            "source",
            "density",
            "conductivity",
            "conductivity_spread",
            "temperature_coefficient",
            "saturation",
            "initial_permeability",
            "initial_spread",
            "coercivity",
            "reversible_permeability",
            "price",
            "table",
            "flux_density_T",
            "field_A_per_m",
        ],
    )
    for key in ("name", "density"):
        if key not in row:
            raise InvalidInput(key, "be given", "nothing", where)
    name = string(row["name"], "name", where)
    if "table" in row:
        flux, field = read_curve(folder / string(row["table"], "table", where))
    else:
        flux, field = (_numbers(row.get(k), k, where) for k in ("flux_density_T", "field_A_per_m"))
    density = quantity(row["density"], "density", "density", where)
    saturation = row.get("saturation")
    try:
        steel = TabulatedSteel(
            name=name,
            density=density,
            source=string(row.get("source", ""), "source", where),
            flux_density=flux,
            field=field,
            saturation=(
                None
                if saturation is None
                else quantity(saturation, "flux_density", "saturation", where)
            ),
            conductivity=quantity(
                row.get("conductivity", "0 S/m"), "conductivity", "conductivity", where
            ),
            **{
                key: quantity(row[key], k, key, where) for key, k in OWN_STEEL.items() if key in row
            },
            reversible_permeability=_pairs(row, where),
        )
        check_ranges(steel, STEEL_RANGES)
        if steel.saturation is not None:
            last = max(steel.flux_density[-1] - MU0 * steel.field[-1], 0.0)
            check_number(
                "saturation", steel.saturation, LEAST_SHARE * last, MOST_SATURATION, "flux_density"
            )
        return steel
    except InvalidInput as error:
        raise error.within(where) from None


def _pairs(row: dict[str, Any], where: str) -> tuple[tuple[float, float], ...]:
    """Return a measured reversible permeability: pairs of flux density in tesla and its value."""
    key = "reversible_permeability"
    if key not in row:
        return ()
    table = table_of(row[key], f"{where}.{key}")
    check_keys(f"{where}.{key}", table, ["flux_density_T", "relative"])
    b, mu = (_numbers(table.get(k), k, f"{where}.{key}") for k in ("flux_density_T", "relative"))
    if len(b) != len(mu) or not b:
        raise InvalidInput(key, "have as many flux densities as values", f"{len(b)}, {len(mu)}")
    return tuple(zip(b, mu, strict=True))


def _numbers(value: object, field: str, where: str) -> tuple[float, ...]:
    if not isinstance(value, list):
        raise InvalidInput(field, "be a list of numbers, or table name a CSV file", value, where)
    return tuple(quantity(v, None, field, where) for v in value)


def read_curve(path: Path) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Read a B-H table from a CSV file with the columns b_T and h_A_m.

    Raises
    ------
    InvalidInput
        If the file cannot be read, has other columns, or a row (its line is named) that is not two
        numbers.
    """
    rows = numbered_rows(read_text(path, "table"), f"table {path}")
    _, head = next(rows, (0, []))
    if head != ["b_T", "h_A_m"]:
        raise InvalidInput("table", "start with the columns b_T,h_A_m", f"{path}: others")
    flux, field = [], []
    for number, row in rows:
        try:
            b, h = (float(cell) for cell in row)
        except ValueError:
            raise InvalidInput(
                f"table, line {number}", "hold two numbers", f"{path}: others"
            ) from None
        flux.append(b)
        field.append(h)
    return tuple(flux), tuple(field)
