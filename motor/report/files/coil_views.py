"""The gap with the coil at rest, enlarged, and what is wound."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from geometries.dimensions import Span
from geometries.part_dimensions import number
from geometries.views import Look, View
from motor.design.wire import Wire

if TYPE_CHECKING:
    from motor.design.coil import Coil
    from motor.design.design import Design

__all__ = ["GapSizes", "coil_notes", "gap_sizes", "gap_view"]

TALLEST, WIDEST = 95.0, 60.0
"""Of the enlarged window on the paper, mm."""
SAME = 1e-6

GapSizes = tuple[list[tuple[float, str]], list[tuple[float, str]], list[list[Span]]]


def gap_sizes(design: Design) -> GapSizes:
    """Return what is dimensioned around the coil at rest.

    Returns
    -------
    radii : list of (radius in metres, words)
        Diameters from the pole to the plate.
    rooms : list of (radius in metres, words)
        Radial lengths between them, at their middle.
    columns : list of list of Span
        Chains of heights: winding and gap; former and winding.
    """
    coil, gap, clear = design.coil, design.geometry.gap, design.clearance
    bore, wound = coil.inner_diameter / 2, coil.inner_radius
    inner, outer = bore - clear.inner, coil.outer_radius + clear.outer
    named = [
        (gap.inner_radius, "gap inside"),
        (inner, "free inside"),
        (bore, "former bore" if wound > bore else "winding bore"),
        (wound, "winding inside"),
        (coil.outer_radius, "winding outside"),
        (outer, "free outside"),
        (gap.outer_radius, "gap outside"),
    ]
    radii: list[tuple[float, str]] = []
    for r, words in named:
        if all(abs(r - known) > SAME for known, _ in radii):
            radii.append((r, words))
    lengths = [
        (inner, bore, "clearance"),
        (bore, wound, "former"),
        (wound, coil.outer_radius, "winding"),
        (coil.outer_radius, outer, "clearance"),
    ]
    rooms = [((a + b) / 2, f"{words} {number(b - a)}") for a, b, words in lengths if b - a > SAME]
    at = coil.outer_radius
    drawn = [(name, [z for _, z in outline]) for name, outline in coil.outlines()]
    wound_ends = [f(z) for name, z in drawn if name != "former" for f in (min, max)]
    gaps = [(one.bottom, one.top) for one in (gap, *gap.further)]
    edges = sorted({*wound_ends, *(z for ends in gaps for z in ends)})
    columns = [[_span("winding against gap", at, a, b) for a, b in _steps(edges)]]
    ends = sorted({f(z) for _, z in drawn for f in (min, max)})
    columns.append([_span("coil", at, a, b) for a, b in _steps(ends)])
    columns.append([_span("gap depth", at, low, high) for low, high in gaps])
    return [(r, f"{words} \u2300 {number(2 * r)}") for r, words in radii], rooms, columns


def _steps(heights: Sequence[float]) -> list[tuple[float, float]]:
    return [(a, b) for a, b in itertools.pairwise(heights) if b - a > SAME]


def _span(what: str, r: float, low: float, high: float) -> Span:
    return Span(what, (r, low), (r, high))


def gap_view(
    design: Design, look: Look, letter: float, scales: Sequence[float]
) -> tuple[View, float]:
    """Return the enlarged view and its scale, the largest of some that fits."""
    gap, coil = design.geometry.gap, design.coil.outlines(drawn=True)
    heights = [z for _, outline in coil for _, z in outline]
    heights += [z for one in (gap, *gap.further) for z in (one.bottom, one.top)]
    beside = 0.5 * gap.width
    low = (max(gap.inner_radius - beside, 0.0), min(heights) - beside)
    high = (gap.outer_radius + beside, max(heights) + beside)
    scale = next(
        (
            s
            for s in scales
            if (high[1] - low[1]) * s * 1e3 < TALLEST and (high[0] - low[0]) * s * 1e3 < WIDEST
        ),
        scales[-1],
    )
    view = View(scale * 1e3, letter, look)

    def draw() -> None:
        for region in design.regions:
            view.part(region)
        for name, outline in coil:
            view.coil(name, outline)

    view.window(low, high, "gap-window", draw)
    radii, rooms, columns = gap_sizes(design)
    view.fan(radii, "above")
    view.fan(rooms, "below")
    for column in columns:
        view.chain(column)
    return view, scale


def coil_notes(design: Design) -> list[str]:
    """Return in words how the coil is made."""
    coil = design.coil
    shared = (
        f", shared by {coil.windings} windings in {coil.connection}" if coil.windings > 1 else ""
    )
    lines = []
    for part, one in zip((None, *coil.parts), coil.each, strict=True):
        name = "Winding" if part is None else f"Winding {part.name.replace('_', ' ')}"
        sense = ", wound in the opposite sense" if part and part.sense == "opposite" else ""
        lines.append(
            f"{name}: {one.layers} layers of {one.turns_per_layer} turns, {one.turns} in all"
            f"{shared}{sense}; {_wire(one)}, {one.wire_length:.4g} m; {one.resistance():.4g} ohm "
            f"at 20 degC without leads. {_rest(one)}"
        )
    if coil.parts:
        lines.append(f"All parts in {coil.connection}: {coil.resistance():.4g} ohm.")
    if coil.former_thickness > 0:
        above = number(coil.former_above) if coil.former_above else "not given"
        lines.append(
            f"Former: bore \u2300 {number(coil.inner_diameter)}, wall "
            f"{number(coil.former_thickness)}; {number(coil.former_below)} below the winding, "
            f"above it {above}."
        )
    travel = [
        f"{word} {number(way)}" if math.isfinite(way) else f"{word} unlimited"
        for word, way in (("inwards", design.contact.inward), ("outwards", design.contact.outward))
    ]
    lines.append(f"Free travel of the coil: {', '.join(travel)}.")
    return lines


def _rest(coil: Coil) -> str:
    away = number(abs(coil.rest_position))
    side = "below" if coil.rest_position < 0 else "above"
    where = f"{away} {side} the middle of the gap" if away != "0" else "in the middle of the gap"
    return f"At rest the winding's middle stands {where}."


def _wire(coil: Coil) -> str:
    wire = coil.wire
    if isinstance(wire, Wire):
        return (
            f"round {wire.material} wire {number(wire.bare_diameter)} bare, "
            f"{number(wire.overall_diameter)} overall"
        )
    return (
        f"flat {wire.material} wire {number(wire.thickness)} x {number(wire.width)}, "
        f"{number(wire.insulation)} added by the enamel"
    )
