"""The tables of a design's page: dimensions, results, masses and cost, materials, convergence."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from scipy.interpolate import CubicSpline

from geometries import Outlines, Role, millimetres
from motor.design.design import Design
from motor.materials import (
    Conductor,
    Former,
    Magnet,
    Steel,
    TabulatedSteel,
    conductor_named,
    former_named,
)
from motor.report.page.assembling import Grid
from motor.report.tables.design import Row, row_of, rows
from motor.results.quantities import motor_quantities

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = [
    "convergence_grid",
    "cost_grid",
    "dimension_grid",
    "key_figures",
    "live_rows",
    "material_grid",
    "result_groups",
]


def number(value: float | None, digits: int = 4) -> str:
    """Return a number with its significant digits; "none" where there is none."""
    if value is None or not math.isfinite(value):
        return "none"
    if abs(value) >= 10**digits:
        return f"{value:.0f}"
    return f"{value:#.{digits}g}".rstrip(".")


def key_figures(result: MotorResult) -> list[Row]:
    """Return the figures of the page's head."""
    rows = []
    for quantity in sorted((q for q in motor_quantities() if q.head), key=lambda q: q.head):
        row = row_of(quantity, result)
        if row is not None:
            doubt = f"{row.spread} {row.unit} numerical" if row.spread else ""
            words = "; ".join(filter(None, [doubt, row.remark]))
            rows.append(row._replace(what=quantity.words, remark=words))
    return rows


def dimension_grid(design: Design) -> Grid:
    """Return every dimension of the drawing and of the coil that is in use."""
    geometry, coil = design.geometry, design.coil
    lines = [
        (field.metadata["doc"].removesuffix(", 0 for none"), _size(value))
        for field in dataclasses.fields(geometry)
        if (value := getattr(geometry, field.name)) and _is_shown(field, value)
    ]
    if isinstance(geometry, Outlines):
        lines += [(d.doc or d.name.replace("_", " "), d.text) for d in geometry.dimensions]
    for ring in getattr(geometry, "rings", ()):
        name = ring.name.replace("_", " ")
        size = f"{_size(ring.inner_diameter)} to {_size(ring.outer_diameter)}"
        lines.append((f"{name}, inner to outer diameter", size))
        lines.append((f"{name}, height from {_size(ring.bottom)}", _size(ring.height)))
    lines += [
        ("coil: bore of the former, or of the winding", _size(coil.inner_diameter)),
        ("coil: outer diameter of the winding", _size(2 * coil.outer_radius)),
        ("coil: winding height", _size(coil.winding_height)),
        ("coil: middle of the winding above the middle of the gap", _size(coil.rest_position)),
    ]
    return Grid(("dimension", "size"), [(w[:1].upper() + w[1:], s) for w, s in lines], ("size",))


def _is_shown(field: dataclasses.Field[Any], value: Any) -> bool:
    """Say whether a field is a dimension, or a choice other than the usual one."""
    quantity = field.metadata.get("quantity")
    return quantity == "length" or (quantity == "choice" and value != field.default)


def _size(value: Any) -> str:
    return millimetres(value) if isinstance(value, float | int) else str(value).replace("_", " ")


def result_groups(result: MotorResult) -> list[dict[str, Any]]:
    """Return the lines of the results' table under their headings."""
    groups: list[dict[str, Any]] = []
    for row in rows(result):
        if not row.value:
            groups.append({"heading": row.what, "rows": []})
        else:
            groups[-1]["rows"].append(row)
    return groups


def live_rows(result: MotorResult) -> list[dict[str, str]]:
    """Return key, name, unit and the design's value of each figure of the live block."""
    return [
        {"key": quantity.live, "what": row.what, "unit": row.unit, "value": row.value}
        for quantity in motor_quantities()
        if quantity.live and (row := row_of(quantity, result)) is not None
    ]


def cost_grid(result: MotorResult) -> Grid:
    """Return mass and cost of every part."""
    design, masses = result.design, dict(result.masses)
    masses["coil"] = design.coil.mass_with_enamel + design.coil.former_mass
    lines = [
        (
            name.replace("_", " "),
            _material_of(design, name),
            number(masses[name] * 1e3, 3 if masses[name] < 1 else 4),
            f"{cost:.3f}",
        )
        for name, cost in result.costs.items()
    ]
    total = (number(sum(masses.values()) * 1e3), f"{sum(result.costs.values()):.3f}")
    return Grid(
        ("part", "material", "mass in g", "cost"),
        [*lines, ("all", "", *total)],
        (
            "mass in g",
            "cost",
        ),
    )


def _material_of(design: Design, part: str) -> str:
    if part == "coil":
        names = [design.coil.wire.material, design.coil.former_material]
        return ", ".join(filter(None, names))
    region = next(r for r in design.regions if r.name == part)
    if region.role is Role.MAGNET:
        return design.materials.magnet_of(part).name
    if region.role is Role.STEEL:
        return design.materials.steel_of(part).name
    return region.material or "copper"


def material_grid(design: Design) -> Grid:
    """Return every material in use, with the values that were used and their source."""
    used: dict[str, tuple[Magnet | Steel | Conductor | Former, list[str]]] = {}

    def note(material: Magnet | Steel | Conductor | Former, part: str) -> None:
        used.setdefault(material.name, (material, []))[1].append(part)

    for region in design.regions:
        note(design.materials.material_of(region), region.name.replace("_", " "))
    note(conductor_named(design.coil.wire.material), "winding")
    if design.coil.former_material:
        note(former_named(design.coil.former_material), "former")
    lines = [
        (name, ", ".join(parts), _properties(material), _source(material))
        for name, (material, parts) in used.items()
    ]
    return Grid(("material", "used for", "values at 20 degC", "source"), lines)


def _source(material: Any) -> str:
    return getattr(material, "source", "") or "given in the design, without a source"


def _properties(material: Any) -> str:
    density = f"density {material.density:.0f} kg/m³"
    if isinstance(material, Magnet):
        coercivity = material.intrinsic_coercivity
        known = "" if coercivity is None else f"HcJ {coercivity / 1e3:.0f} kA/m, "
        return (
            f"Br {material.remanence:.3f} T, {known}recoil permeability "
            f"{material.recoil_permeability:g}, {100 * material.temperature_coefficient:+.2f} %/K, "
            f"{density}"
        )
    if isinstance(material, TabulatedSteel):
        saturation = "" if material.saturation is None else f", saturation {material.saturation} T"
        return f"B(H) table of {len(material.flux_density)} rows{saturation}, {density}"
    if isinstance(material, Conductor):
        return (
            f"resistivity {material.resistivity:.4g} ohm m, "
            f"{100 * material.temperature_coefficient:.3f} %/K, {density}"
        )
    return density


def _powers(values: Sequence[float]) -> str:
    """Return small numbers with a minus sign at which no line breaks."""
    return ", ".join(f"{value:.0e}".replace("-", "\N{MINUS SIGN}") for value in values)


def convergence_grid(result: MotorResult) -> Grid:
    """Return unknowns, steps, residuals and Bl of both meshes."""
    field, curve = result.field, result.bl_curve
    levels = [("fine", field.fine, curve.bl)]
    if field.coarse is not field.fine:
        levels.insert(0, ("coarse", field.coarse, curve.bl_coarse))
    lines = [
        (
            name,
            str(level.system.size),
            str(int(level.system.mesh.mesh.nelements)),
            str(level.solution.iterations),
            _powers(level.solution.residuals),
            f"{float(CubicSpline(curve.x, bl)(0.0)):.5f}",
        )
        for name, level, bl in levels
    ]
    heads = ("mesh", "unknowns", "triangles", "steps", "relative residual", "Bl at rest in T m")
    return Grid(heads, lines, ("unknowns", "triangles", "steps", "Bl at rest in T m"))
