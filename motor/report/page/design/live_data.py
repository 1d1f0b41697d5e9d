"""What the page's script needs to compute any winding in the field that was solved.

The field does not depend on the coil.  The triangles that a winding of any build-up can lie
in, with the potential at their nodes, are therefore all that Bl(x) needs; the script does with
them what :func:`motor.results.motor_result.read_off` does, in the same order, so that both give
the same.
"""

from __future__ import annotations

import base64
import math
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import free_gap
from geometries.checks import AREA_GRAIN
from motor.base.arrays import Floats
from motor.base.gauss import gauss
from motor.base.json_numbers import finite
from motor.base.units import format_quantity
from motor.design.coil import CHANGES, ENAMEL_DENSITY
from motor.design.design import Design
from motor.design.wire import FlatWire, Wire, round_sizes, wire_of_size
from motor.design.writing import design_to_toml
from motor.field.field import CHANGE, FieldOnMesh
from motor.materials import conductor_named, former_named
from motor.results.bl import CARRIED, SAMPLES
from motor.results.profile import RADII
from motor.results.sampling import PROFILE_STEPS

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["live_data", "wires_to_choose"]

THINNEST, THICKEST = 0.55, 1.9
"""Wires to choose from, diameter over the design's own."""
MOST_LAYERS = 20
COLUMN = 1.02
"""Radii that are kept, beyond the gap's, so that rounding leaves no point out."""


def live_data(result: MotorResult) -> dict[str, Any]:
    """Return everything the script computes with, ready for JSON; SI units but for the sliders."""
    design, field = result.design, result.field
    coil, gap, moving = design.coil, design.geometry.gap, design.moving_parts
    points, weights = gauss(RADII)
    conductor = conductor_named(coil.wire.material)
    free_inner, free_outer = free_gap(design.regions, gap)
    former = former_named(coil.former_material).density if coil.former_material else 0.0
    wires = wires_to_choose(design)
    fixed = None if moving is None else moving.total_mass
    return {
        "fine": _column(field.fine, coil.inner_radius, gap.outer_radius),
        "coarse": _column(field.coarse, coil.inner_radius, gap.outer_radius)
        if field.fine is not field.coarse
        else None,
        "gauss": {"points": points.tolist(), "weights": (weights / weights.sum()).tolist()},
        "samples": SAMPLES,
        "profile_steps": PROFILE_STEPS,
        "errors": _error_model(result),
        "carried": CARRIED,
        "gap": {
            "width": gap.width,
            "depth": gap.depth,
            "bottom": gap.bottom,
            "top": gap.top,
            "free_inner": free_inner,
            "free_outer": free_outer,
        },
        "parts": [{"name": r.name, "outline": r.outline} for r in design.regions],
        "area_grain": AREA_GRAIN,
        "coil": {
            "inner_diameter": coil.inner_diameter,
            "former_thickness": coil.former_thickness,
            "former_below": coil.former_below,
            "former_above": coil.former_above,
            "former_density": former,
            "travel_margin": coil.travel_margin,
            "windings": coil.windings,
            "parallel": coil.connection == "parallel",
        },
        "conductor": {
            "resistivity": conductor.resistivity_at(design.temperature),
            "density": conductor.density,
        },
        "enamel_density": ENAMEL_DENSITY,
        "changes": dict(CHANGES),
        "moving": None
        if moving is None
        else {
            "mass": sum(
                filter(
                    None, (moving.mass, moving.cone_mass, moving.surround_mass, moving.other_mass)
                )
            ),
            "total_mass": fixed,
            "stiffness": moving.stiffness_at_rest,
        },
        "limits": list(design.stroke.limits),
        "given_limits": {
            name: finite(result.stroke_limits[name].value)
            for name in ("compliance", "inductance")
            if name in result.stroke_limits
        },
        "wires": [_wire_record(wire, label) for wire, label in wires],
        "sliders": _sliders(design, [wire for wire, _ in wires]),
        "exact": _exact(design),
        "coil_lines": _coil_lines(design),
    }


def _error_model(result: MotorResult) -> dict[str, float] | None:
    tail = result.field.errors.tail
    return {"change": CHANGE, "tail": tail} if math.isfinite(tail) else None


def _packed(values: Any, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, kind).tobytes()).decode()


def _column(level: FieldOnMesh, inner: float, outer: float) -> dict[str, str]:
    """Return the triangles between two radii: six nodes each, their places and potential."""
    nodes = level.system.nodes
    r, z = level.system.basis.doflocs
    corner = r[nodes[:, :3]]
    kept = nodes[(corner.max(axis=1) >= inner / COLUMN) & (corner.min(axis=1) <= outer * COLUMN)]
    used, renumbered = np.unique(kept, return_inverse=True)
    values: Floats = level.potential[used]
    return {
        "r": _packed(r[used], "<f8"),
        "z": _packed(z[used], "<f8"),
        "potential": _packed(values, "<f8"),
        "nodes": _packed(renumbered.reshape(kept.shape), "<i4"),
    }


def wires_to_choose(design: Design) -> list[tuple[Wire | FlatWire, str]]:
    """Return the design's own wire and round ones of the metric series, thin to thick."""
    own = design.coil.wire
    area = own.conductor_area
    own_is_of_series = False
    found: list[tuple[Wire | FlatWire, str]] = []
    for name, (bare, _) in round_sizes("metric", 1).items():
        if THINNEST <= bare / math.sqrt(4 * area / math.pi) <= THICKEST:
            wire = wire_of_size(name, material=own.material)
            if wire == own:
                own_is_of_series = True
            found.append((wire, f"{name}{' (as designed)' if wire == own else ''}"))
    if not own_is_of_series:
        size = (
            f"{own.bare_diameter * 1e3:.4g} mm"
            if isinstance(own, Wire)
            else f"{own.thickness * 1e3:.4g} x {own.width * 1e3:.4g} mm flat"
        )
        found.append((own, f"{size} (as designed)"))
    return sorted(found, key=lambda item: (item[0].conductor_area, item[0].overall_area))


def _wire_record(wire: Wire | FlatWire, label: str) -> dict[str, Any]:
    keys: dict[str, float] = (
        {"bare_diameter": wire.bare_diameter, "overall_diameter": wire.overall_diameter}
        if isinstance(wire, Wire)
        else {"thickness": wire.thickness, "width": wire.width, "insulation": wire.insulation}
    )
    return {
        "label": label,
        "pitch": wire.pitch,
        "build": wire.build,
        "conductor_area": wire.conductor_area,
        "overall_area": wire.overall_area,
        "lines": [
            f'material = "{wire.material}"',
            *(f'{key} = "{format_quantity(value, "length")}"' for key, value in keys.items()),
        ],
    }


def _millimetres(length: float) -> Decimal:
    """Return a length in millimetres to nine digits, as a slider shows it."""
    return Decimal(f"{length * 1e3:.9g}")


def _sliders(design: Design, wires: list[Wire | FlatWire]) -> dict[str, dict[str, str]]:
    """Return least, most, step and start of each slider as decimal text, lengths in mm.

    The design's own value lies on each slider's grid; see also :func:`_exact`.
    """
    coil = design.coil
    height, rest = _millimetres(coil.winding_height), _millimetres(coil.rest_position)
    step = Decimal("0.1") if height < 40 else Decimal("0.2")
    least = height - step * int((height - min(Decimal("0.2"), height)) / step)
    most = height + step * int((min(height * Decimal("1.5"), 200 - height)) / step)
    way = step * int(max(height / 2, _millimetres(design.geometry.gap.depth)) / step)
    return {
        "winding_height": _slider(least, most, step, height),
        "layers": _slider(1, min(MOST_LAYERS, max(6, 2 * coil.layers)), 1, coil.layers),
        "wire": _slider(0, len(wires) - 1, 1, wires.index(coil.wire)),
        "rest_position": _slider(rest - way, rest + way, step, rest),
    }


def _exact(design: Design) -> dict[str, dict[str, Any]]:
    """Return the design's own lengths behind the sliders' start, in metres and as written."""
    coil = design.coil
    return {
        name: {"metres": value, "text": format_quantity(value, "length")}
        for name, value in (
            ("winding_height", coil.winding_height),
            ("rest_position", coil.rest_position),
        )
    }


def _slider(least: Any, most: Any, step: Any, start: Any) -> dict[str, str]:
    return {"min": str(least), "max": str(most), "step": str(step), "value": str(start)}


def _coil_lines(design: Design) -> list[str]:
    """Return the lines of the design file's [coil] that no slider moves."""
    lines = design_to_toml(design).splitlines()
    own = lines[lines.index("[coil]") + 1 : lines.index("[coil.wire]")]
    moved = ("winding_height", "layers", "rest_position")
    return [line for line in own if line and line.split(" = ")[0] not in moved]
