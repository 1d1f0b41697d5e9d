"""The page's part in which every dimension can be tried, by the derivatives."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from bokeh.models import ColumnDataSource
from markupsafe import Markup

from motor.base.json_numbers import finite
from motor.base.quantity import COLUMN_UNITS
from motor.design.design import Design
from motor.design.writing import design_to_toml
from motor.report.page.design.live_data import packed
from motor.report.page.theme import DASHES, Entry, Plot, chart, hover
from motor.report.style import style
from motor.results.quantities import motor_quantities
from motor.study.expanding import grid
from motor.study.parameters import TOGETHER
from motor.study.second_order import (
    ALLOWED,
    LEAN,
    STRAINED,
    THIRD,
    TOGETHER_BENT,
    Lever,
    PartShape,
    SecondOrder,
)

__all__ = ["DimensionSection", "dimension_data", "dimension_section"]

SHOWN = (
    "bl_at_rest_Tm",
    "mean_gap_flux_density_T",
    "gap_flux_mWb",
    "motor_constant_N2_per_W",
    "bl_asymmetry_at_82_percent",
    "stroke_82_mm",
    "mechanical_limit_mm",
    "usable_stroke_mm",
    "motor_mass_g",
    "magnet_mass_g",
    "total_cost",
    "outer_diameter_mm",
    "height_mm",
    "clearance_inner_mm",
    "clearance_outer_mm",
)
"""Keys of the figures in the table."""
EDGE = 0.06
"""Margin of the section's picture over its larger size."""


@dataclass(frozen=True)
class DimensionSection:
    """What the template shows.

    Parameters
    ----------
    sliders : list of dict
        Label, words, least, most, step and start of each, in mm as text.
    rows : list of dict
        Key, words, unit and value as designed of each figure.
    section : Markup
        The half section, which the script moves.
    refused : list of (name, reason)
    plot : Plot
    """

    sliders: list[dict[str, str]]
    rows: list[dict[str, str]]
    section: Markup
    refused: list[tuple[str, str]]
    plot: Plot


def dimension_data(found: SecondOrder, design: Design) -> dict[str, Any]:
    """Return what the page's script computes with, lengths in mm; see ``dimensions.js``."""
    return {
        "levers": [
            {"name": one.name, "value": one.value, "strain": one.strain, "slider": _slider(one)}
            for one in found.levers
        ],
        "figures": {key: packed(rows, "<f8") for key, rows in found.figures.items()},
        "x": packed(found.x, "<f8"),
        "bl": packed(found.bl, "<f8"),
        "travel": [[finite(row[0]), *row[1:].tolist()] for row in found.travel],
        "parts": [
            {
                "name": part.name,
                "role": part.role,
                "outline": part.outline.tolist(),
                "ways": _sparse(part),
                "density": part.density,
                "price": part.price,
            }
            for part in found.parts
        ],
        "limits": list(found.limits),
        "rest_mm": found.rest_mm,
        "given": {name: finite(value) for name, value in found.given.items()},
        "factors": {"together": TOGETHER_BENT, "third": THIRD, "strained": STRAINED, "lean": LEAN},
        "allowed": ALLOWED,
        "lines": _lines(design, found.levers),
    }


def _sparse(part: PartShape) -> dict[str, Any]:
    """Return the ways of a part's corners by the number of those levers that move it."""
    return {str(k): way.tolist() for k, way in enumerate(part.ways) if way.any()}


def _millimetres(length: float) -> Decimal:
    return Decimal(f"{length:.9g}")


def _slider(lever: Lever) -> dict[str, str]:
    """Return least, most, step and start as decimal text; the start lies on the grid."""
    value = _millimetres(lever.value)
    step = Decimal(str(grid(max(lever.value - lever.least, lever.most - lever.value))))
    least = value - step * round((value - _millimetres(lever.least)) / step)
    most = value + step * round((_millimetres(lever.most) - value) / step)
    texts = {"min": least, "max": most, "step": step, "value": value}
    return {key: f"{text:f}" for key, text in texts.items()}


def _lines(design: Design, levers: Sequence[Lever]) -> list[list[Any]]:
    """Return the sections [geometry] and [coil] of the design file as [name, before, after, value].

    A line with a dimension that can be tried has its name, and what stands before and behind the
    value; others have no name.
    """
    tried = {name for lever in levers for name in lever.name.split(TOGETHER)}
    lines: list[list[Any]] = []
    for section in ("geometry", "coil"):
        text = design_to_toml(design).splitlines()
        start = text.index(f"[{section}]")
        ends = (k for k, line in enumerate(text) if k > start and line.startswith("["))
        own = [line for line in text[start : next(ends, len(text))] if line]
        for line in own:
            name = f"{section}.{line.partition(' = ')[0]}"
            cut = re.match(r'([a-z_0-9]+ = (?:\{ value = )?")([^"]*)(".*)$', line)
            known = cut is not None and name in tried
            lines.append([name, cut[1], cut[3], cut[2]] if cut and known else [None, line, "", ""])
        lines.append([None, "", "", ""])
    return lines[:-1]


def dimension_section(found: SecondOrder, design: Design) -> DimensionSection:
    """Return the sliders, the table and the pictures as they are before anything is changed."""
    now = found.at({})
    rows = []
    for quantity in motor_quantities():
        key = quantity.key
        if key in SHOWN and key in now.figures:
            value = now.figures[key]
            text = f"{value:.4g}" if np.isfinite(value) else "none"
            unit = COLUMN_UNITS[quantity.unit].words
            rows.append({"key": key, "what": quantity.words, "unit": unit, "value": text})
    rows.sort(key=lambda row: SHOWN.index(row["key"]))
    names = [TOGETHER.join(map(_spoken, one.name.split(TOGETHER))) for one in found.levers]
    return DimensionSection(
        [
            {"label": name[:1].upper() + name[1:], "words": one.words, **_slider(one)}
            for name, one in zip(names, found.levers, strict=True)
        ],
        rows,
        _section(found.parts),
        [(_spoken(name), why) for name, why in found.refused.items() if not _given(found, name)],
        _plot(found),
    )


def _given(found: SecondOrder, name: str) -> bool:
    """Say whether a dimension that does not change alone changes with another."""
    return any(name in one.name.split(TOGETHER) for one in found.levers)


def _spoken(name: str) -> str:
    section, _, key = name.partition(".")
    return key.replace("_", " ") if section == "geometry" else f"coil, {key.replace('_', ' ')}"


def _path(outline: Any) -> str:
    return "M" + "L".join(f"{r:.4g},{-z:.5g}" for r, z in outline) + "Z"


def _section(parts: Sequence[PartShape]) -> Markup:
    """Return the half section: parts that the script moves, and dashed as designed."""
    look, corners = style(), np.concatenate([part.outline for part in parts])
    wide, low, high = corners[:, 0].max(), corners[:, 1].min(), corners[:, 1].max()
    edge = EDGE * max(wide, high - low)
    box = f"{-edge:.4g} {-high - edge:.4g} {wide + 2 * edge:.4g} {high - low + 2 * edge:.4g}"
    line = (wide + high - low) / 400
    drawn = [
        f'<path class="dim-part" d="{_path(part.outline)}" fill="{look.fills[part.role]}" '
        f'stroke="{look.ink}" stroke-width="{line:.3g}"/>'
        for part in parts
    ]
    dashed = [
        f'<path d="{_path(part.outline)}" fill="none" stroke="{look.second}" '
        f'stroke-width="{line:.3g}" stroke-dasharray="{3 * line:.3g} {2 * line:.3g}"/>'
        for part in parts
    ]
    return Markup(
        f'<svg viewBox="{box}" role="img" aria-label="Half section with the dimensions above, '
        f'dashed as designed">{"".join((*drawn, *dashed))}</svg>'
    )


def _plot(found: SecondOrder) -> Plot:
    """Return Bl(x) of the design, and beside it the curve that the page's script moves."""
    look = style()
    bl, spread = found.bl[0], found.bl[1]
    before = ColumnDataSource({"x": found.x * 1e3, "bl": bl})
    columns = {"x": found.x * 1e3, "bl": bl, "spread": spread}
    columns |= {"low": bl - spread, "high": bl + spread}
    live = ColumnDataSource(columns, name="dim-curve")
    made = chart("coil displacement x in mm (positive outwards)", "Bl in T m", height=340)
    made.varea("x", "low", "high", source=live, color=look.ink, alpha=0.25)
    made.line("x", "bl", source=before, color=look.quiet, line_dash=DASHES["before"], line_width=2)
    line = made.line("x", "bl", source=live, color=look.ink, line_width=2.4)
    tips = [("x", "@x{+0.00} mm"), ("Bl", "@bl{0.000} T m"), ("band", "± @spread{0.000} T m")]
    hover(made, tips, [line])
    key = (
        Entry("with these dimensions, and its band", look.ink),
        Entry("as designed", look.quiet, DASHES["before"], 2),
    )
    return Plot(made, key)
