"""The workshop's sheet: section, gap and coil, each part with every dimension, parts list."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

from geometries import Region, Role, volume
from geometries.drawing import assembly
from geometries.part_dimensions import number, part_dimensions
from geometries.shapes import polygon
from geometries.views import LOOKS, View, width_of
from geometries.words import markup_line, one_line
from motor.base.cautions import MOTOR
from motor.base.constants import ZERO_CELSIUS
from motor.base.program import stamp
from motor.report.files.coil_views import coil_notes, gap_view
from motor.report.themes import current

if TYPE_CHECKING:
    from motor.design.design import Design

__all__ = ["fits_of", "sheet_svg"]

LETTER, CAPTION = 2.5, 3.5
"""Heights of letters, mm; of the series of ISO 3098 (from memory)."""
FORMATS = {"A4": (297, 210), "A3": (420, 297), "A2": (594, 420), "A1": (841, 594)}
"""Sheets of ISO 216, lying, mm."""
SCALES = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
"""Of ISO 5455 (from memory), the largest first."""
MARGIN, APART = 10.0, 8.0
LEAST_RADIUS = 38.0
"""A smaller section on the paper, mm, gets a larger sheet."""
BLOCK = 130.0
"""Width of parts list and title block, mm."""
NEAR = 1e-6
"""How far beside a face one looks which part is there, metres."""


@dataclass(frozen=True)
class _Placed:
    view: View
    caption: str


def sheet_svg(design: Design) -> str:
    """Return the sheet as SVG, in millimetres of a paper size and at a scale of its own."""
    for name, (width, height) in FORMATS.items():
        room = width - 2 * MARGIN
        foot = max(_list_height(design), _notes_height(design))
        for scale in SCALES:
            views = _views(design, scale)
            rows = _rows(views, room)
            tall = sum(row.height for row in rows)
            if tall + foot <= height - 2 * MARGIN and all(row.width <= room for row in rows):
                across = max(r for region in design.regions for r, _ in region.outline)
                if across * 1e3 * scale >= LEAST_RADIUS or name == "A1":
                    return _sheet(design, name, scale, rows)
                break
    name, scale = "A1", SCALES[-1]
    return _sheet(design, name, scale, _rows(_views(design, scale), FORMATS[name][0] - 2 * MARGIN))


def _views(design: Design, scale: float) -> list[_Placed]:
    look = LOOKS[current()]
    coil = design.coil.outlines(drawn=True)
    whole = View(scale * 1e3, LETTER, look)
    assembly(design.regions, design.geometry.gap, coil, design.geometry.marked, whole)
    detail, size = gap_view(design, look, LETTER, SCALES)
    views = [
        _Placed(whole, f"section, {_ratio(scale)}"),
        _Placed(detail, f"gap and coil at rest, {_ratio(size)}"),
    ]
    for region in design.regions:
        view = part_view(region, View(scale * 1e3, LETTER, look))
        views.append(_Placed(view, f"{_name(region)}, {_ratio(scale)}"))
    return views


def part_view(region: Region, view: View) -> View:
    """Draw one part with every dimension."""
    found = part_dimensions(region.outline, region.name)
    low, high = (f(z for _, z in region.outline) for f in (min, max))
    view.part(region)
    view.axis()
    view.notes([(cut.text, cut.at) for cut in found.cuts])
    below = [s for s in found.diameters if s.end[1] < (low + high) / 2]
    view.diameters(below, "below")
    view.diameters([s for s in found.diameters if s not in below], "above")
    if len(found.heights) > 1:
        view.running(found.heights)
    return view


def fits_of(regions: Sequence[Region]) -> list[tuple[str, str, float]]:
    """Return which parts meet on a cylinder: the outer, the inner, and the radius in metres."""
    found = set()
    for one, other in itertools.permutations(regions, 2):
        common = polygon(one).boundary.intersection(polygon(other).boundary)
        for piece in getattr(common, "geoms", [common]):
            r0, z0, r1, z1 = piece.bounds if not piece.is_empty else (0.0,) * 4
            if r0 == r1 > 0 and z1 > z0:
                outside = shapely.Point(r0 + NEAR, (z0 + z1) / 2)
                if polygon(one).contains(outside):
                    found.add((_name(one), _name(other), float(r0)))
    return sorted(found)


def _name(region: Region) -> str:
    return region.name.replace("_", " ")


def _ratio(scale: float) -> str:
    return f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"


# where things stand


def _height(placed: _Placed) -> float:
    return placed.view.box.height + 1.6 * CAPTION + APART


def _width(placed: _Placed) -> float:
    return max(placed.view.box.width, width_of(placed.caption, CAPTION)) + APART


@dataclass
class _Row:
    """Columns of views side by side."""

    columns: list[list[_Placed]]

    @property
    def height(self) -> float:
        return max(sum(map(_height, column)) for column in self.columns)

    @property
    def width(self) -> float:
        return sum(max(map(_width, column)) for column in self.columns) - APART

    def below(self, placed: _Placed, room: float) -> bool:
        """Put a view below others if the row grows neither taller nor too wide; tell whether."""
        tall = self.height
        for column in self.columns:
            column.append(placed)
            if self.height <= tall and self.width <= room:
                return True
            column.pop()
        return False


def _rows(views: Sequence[_Placed], room: float) -> list[_Row]:
    rows: list[_Row] = []
    for placed in views:
        if any(row.below(placed, room) for row in rows):
            continue
        if rows and rows[-1].width + _width(placed) <= room:
            rows[-1].columns.append([placed])
        else:
            rows.append(_Row([[placed]]))
    return rows


def _list_height(design: Design) -> float:
    return (len(_parts(design)) + 2) * 1.7 * LETTER + 24.0


def _notes_height(design: Design) -> float:
    return (len(_notes(design, BLOCK)) + 1) * 1.6 * LETTER


def _sheet(design: Design, name: str, scale: float, rows: Sequence[_Row]) -> str:
    width, height = FORMATS[name]
    look, y = LOOKS[current()], MARGIN
    lines: list[str] = []
    for row in rows:
        x = MARGIN
        for column in row.columns:
            down = y
            for placed in column:
                box = placed.view.box
                lines.append(_text(x, down + CAPTION, placed.caption, CAPTION))
                top = down + 1.8 * CAPTION
                lines.append(f'<g transform="translate({x - box.left:.2f} {top - box.top:.2f})">')
                lines += [*placed.view.drawing, "</g>"]
                down += _height(placed)
            x += max(map(_width, column))
        y += row.height
    foot = height - MARGIN
    room = width - 2 * MARGIN - BLOCK - APART
    notes = _notes(design, room)
    for k, line in enumerate(notes):
        lines.append(_text(MARGIN, foot - (len(notes) - k - 1) * 1.6 * LETTER - 1, line))
    lines += _block(design, f"{_ratio(scale)}, sheet {name}", width - MARGIN - BLOCK, foot)
    frame = f'x="5" y="5" width="{width - 10}" height="{height - 10}"'
    definitions = View(1.0, LETTER, look).define()
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
            f'viewBox="0 0 {width} {height}" font-family="sans-serif">',
            f"<metadata>{markup_line(stamp())}</metadata>{definitions}",
            f'<rect width="{width}" height="{height}" fill="white"/>',
            f'<rect {frame} fill="none" stroke="#333" stroke-width="0.5"/>',
            *lines,
            "</svg>",
        ]
    )


def _text(x: float, y: float, text: str, size: float = LETTER, anchor: str = "start") -> str:
    if not text:
        return ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" text-anchor="{anchor}">'
        f"{markup_line(text)}</text>"
    )


def _parts(design: Design) -> list[tuple[str, str, str]]:
    """Return name, material and mass in g of each part, the coil last."""
    found = []
    for region in design.regions:
        material = design.materials.material_of(region)
        grams = volume(region) * material.density * 1e3
        role = "" if region.role is not Role.MAGNET else ", magnetised as the arrow shows"
        found.append((_name(region), material.name + role, f"{grams:.4g}"))
    coil = design.coil
    wire = coil.wire.material
    found.append(("winding", wire, f"{coil.mass_with_enamel * 1e3:.4g}"))
    if coil.former_thickness > 0:
        known = bool(coil.former_material)
        mass = f"{coil.former_mass * 1e3:.4g}" if known else ""
        found.append(("former", coil.former_material or "material not given", mass))
    return found


def _notes(design: Design, room: float) -> list[str]:
    """Return lines that fit a room in mm: the coil, fits, what is not on the sheet, caution."""
    fits = "; ".join(
        f"{one} on {other} \u2300 {number(2 * r)}" for one, other, r in fits_of(design.regions)
    )
    said = [
        *coil_notes(design),
        f"Fits to be agreed: {fits}." if fits else "",
        "Heights run from the lowest face of each part. Nominal sizes in mm: tolerances, finish "
        "and broken edges to be agreed.",
        MOTOR,
    ]
    return [line for text in said if text for line in _broken(text, room)]


def _broken(text: str, room: float) -> Iterator[str]:
    line = ""
    for word in text.split():
        if line and width_of(f"{line} {word}", 0.92 * LETTER) > room:
            yield line
            line = word
        else:
            line = f"{line} {word}".strip()
    yield line


def _block(design: Design, scale: str, x: float, foot: float) -> list[str]:
    """Draw parts list and title block, their lower left corner at (x, foot), mm."""
    parts, step = _parts(design), 1.7 * LETTER
    top = foot - 22.0
    lines = []
    rows = [("part", "material", "mass in g"), *parts]
    for k, (name, material, mass) in enumerate(rows):
        y = top - (len(rows) - 1 - k) * step - 1.2
        lines.append(_rule(x, y + 1.2, BLOCK))
        lines.append(_text(x + 1.5, y, name))
        lines.append(_text(x + 38, y, material))
        lines.append(_text(x + BLOCK - 1.5, y, mass, anchor="end"))
    shown = f'x="{x:.1f}" y="{top:.1f}" width="{BLOCK}" height="22"'
    lines.append(f'<rect {shown} fill="none" stroke="#333" stroke-width="0.5"/>')
    title = one_line(design.name)
    size = min(4.5, (BLOCK - 3) / max(width_of(title, 1.0), 1.0))
    lines.append(_text(x + 1.5, top + 6.5, title, round(size, 2)))
    shown = f"scale {scale}; dimensions in mm at {design.temperature - ZERO_CELSIUS:.4g} degC"
    lines.append(_text(x + 1.5, top + 13, shown))
    lines.append(_text(x + 1.5, top + 18.5, stamp()))
    return lines


def _rule(x: float, y: float, width: float) -> str:
    return f'<path d="M{x:.1f},{y:.2f} h{width}" stroke="#888" stroke-width="0.15"/>'
