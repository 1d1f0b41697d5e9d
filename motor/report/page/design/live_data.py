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

from geometries import Gap, free_gap
from geometries.checks import AREA_GRAIN
from motor.base.arrays import Floats
from motor.base.gauss import gauss
from motor.base.json_numbers import finite
from motor.base.units import format_quantity
from motor.design.coil import CHANGES, ENAMEL_DENSITY
from motor.design.design import Design
from motor.design.wire import FlatWire, Wire, round_sizes, wire_of_size
from motor.design.writing import design_sections
from motor.field.field import CHANGE, FieldOnMesh
from motor.materials import REFERENCE_TEMPERATURE, conductor_named, former_named
from motor.results.bl import CARRIED, SAMPLES, STROKE
from motor.results.profile import RADII
from motor.results.sampling import PROFILE_STEPS

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["live_data", "packed", "wires_to_choose"]

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
    former = former_named(coil.former_material).density if coil.former_material else 0.0
    further = [_part(design, k) for k in range(1, len(coil.each))]
    inner, outer = (
        min(c.inner_radius for c in coil.each),
        max(gap.outer_radius for gap in gap.all),
    )
    fixed = None if moving is None else moving.total_mass
    return {
        "fine": _column(field.fine, inner, outer),
        "coarse": _column(field.coarse, inner, outer) if field.fine is not field.coarse else None,
        "gauss": {"points": points.tolist(), "weights": (weights / weights.sum()).tolist()},
        "samples": SAMPLES,
        "profile_steps": PROFILE_STEPS,
        "errors": _error_model(result),
        "carried": CARRIED,
        "fallen": STROKE,
        "gap": _gap(design, gap),
        "gaps": [_gap(design, one) for one in gap.all],
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
        **_winding(design, 0),
        "coil_lines": _coil_lines(design, "[coil]"),
        "further": further,
        "as_designed": [one["as_designed"] for one in further],
    }


def _gap(design: Design, gap: Gap) -> dict[str, float]:
    free_inner, free_outer = free_gap(design.regions, gap)
    return {
        "width": gap.width,
        "depth": gap.depth,
        "bottom": gap.bottom,
        "top": gap.top,
        "free_inner": free_inner,
        "free_outer": free_outer,
    }


def _winding(design: Design, number: int) -> dict[str, Any]:
    """Return wires and sliders of one of the coil's windings."""
    wires = wires_to_choose(design, number)
    return {
        "wires": [_wire_record(wire, label, design.temperature) for wire, label in wires],
        "sliders": _sliders(design, [wire for wire, _ in wires], number),
        "exact": _exact(design, number),
    }


def _part(design: Design, number: int) -> dict[str, Any]:
    """Return a part beside the main winding; its place stands where that has its rest position."""
    part, record = design.coil.parts[number - 1], _winding(design, number)
    return {
        "name": part.name,
        "sense": 1 if part.sense == "same" else -1,
        "inner": None if part.inner_diameter is None else part.inner_diameter / 2,
        **record,
        "coil_lines": _coil_lines(design, "[[coil.parts]]", number),
        "as_designed": {
            "winding_height": part.winding_height,
            "layers": part.layers,
            "wire": None if part.wire is None else int(record["sliders"]["wire"]["value"]),
            "rest_position": part.place,
        },
    }


def _error_model(result: MotorResult) -> dict[str, float] | None:
    tail = result.field.errors.tail
    return {"change": CHANGE, "tail": tail} if math.isfinite(tail) else None


def packed(values: Any, kind: str) -> str:
    """Return numbers as base64 of their bytes."""
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
        "r": packed(r[used], "<f8"),
        "z": packed(z[used], "<f8"),
        "potential": packed(values, "<f8"),
        "nodes": packed(renumbered.reshape(kept.shape), "<i4"),
    }


def wires_to_choose(design: Design, number: int = 0) -> list[tuple[Wire | FlatWire, str]]:
    """Return a winding's own wire and round ones of the metric series, thin to thick."""
    own = design.coil.each[number].wire
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


def _wire_record(wire: Wire | FlatWire, label: str, temperature: float) -> dict[str, Any]:
    conductor = conductor_named(wire.material)
    keys: dict[str, float] = (
        {"bare_diameter": wire.bare_diameter, "overall_diameter": wire.overall_diameter}
        if isinstance(wire, Wire)
        else {"thickness": wire.thickness, "width": wire.width, "insulation": wire.insulation}
    )
    return {
        "label": label,
        "conductor": {
            "resistivity": conductor.resistivity_at(temperature),
            "cold_resistivity": conductor.resistivity_at(REFERENCE_TEMPERATURE),
            "density": conductor.density,
        },
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


def _places(design: Design, number: int) -> tuple[float, float, int]:
    """Return winding height and place in metres, and layers, of a winding as it is written."""
    coil = design.coil
    if number == 0:
        return coil.winding_height, coil.rest_position, coil.layers
    part = coil.parts[number - 1]
    return part.winding_height, part.place, part.layers


def _sliders(
    design: Design, wires: list[Wire | FlatWire], number: int
) -> dict[str, dict[str, str]]:
    """Return least, most, step and start of each slider as decimal text, lengths in mm.

    The design's own value lies on each slider's grid; see also :func:`_exact`.
    """
    metres, place, layers = _places(design, number)
    height, rest = _millimetres(metres), _millimetres(place)
    step = Decimal("0.1") if height < 40 else Decimal("0.2")
    least = height - step * int((height - min(Decimal("0.2"), height)) / step)
    most = height + step * int((min(height * Decimal("1.5"), 200 - height)) / step)
    way = step * int(max(height / 2, _millimetres(design.geometry.gap.depth)) / step)
    return {
        "winding_height": _slider(least, most, step, height),
        "layers": _slider(1, min(MOST_LAYERS, max(6, 2 * layers)), 1, layers),
        "wire": _slider(0, len(wires) - 1, 1, wires.index(design.coil.each[number].wire)),
        "rest_position": _slider(rest - way, rest + way, step, rest),
    }


def _exact(design: Design, number: int) -> dict[str, dict[str, Any]]:
    """Return the design's own lengths behind the sliders' start, in metres and as written."""
    height, place, _ = _places(design, number)
    return {
        name: {"metres": value, "text": format_quantity(value, "length")}
        for name, value in (("winding_height", height), ("rest_position", place))
    }


def _slider(least: Any, most: Any, step: Any, start: Any) -> dict[str, str]:
    return {"min": str(least), "max": str(most), "step": str(step), "value": str(start)}


def _coil_lines(design: Design, head: str, number: int = 1) -> list[str]:
    """Return the lines of one of the design file's sections of that head that no slider moves."""
    sections = [section for section in design_sections(design) if section.head == head]
    moved = ("winding_height", "layers", "rest_position", "place")
    return [line.text for line in sections[number - 1].plain.lines if line.key not in moved]
