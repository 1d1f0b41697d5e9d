"""The coil on its way through the field, as SVG: for a page to drag, or moving by itself.

Left the half section with flux lines and the winding, beside it B_r along the winding's path at
the same heights, and Bl over displacement with a marker.  A page's script moves what is named
``moving-...``; the file for itself moves them by animation elements of the SVG standard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.views import COIL_COLOUR, LOOKS
from geometries.words import markup_line
from motor.base.arrays import Floats
from motor.report.figures.field import flux_lines
from motor.report.style import style
from motor.results.gap import radial_flux_density

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["MovingCoil", "moving_coil", "moving_svg"]

SECTION_WIDTH, SECTION_HEIGHT = 400.0, 440.0
"""Most pixels that the half section may take."""
STRIP, SPACE = 130.0, 46.0
CURVE_WIDTH = 520.0
FLUX_LINES, PIXELS, SAMPLES = 22, 220, 301
SECONDS, FRAMES = 4.0, 48
PARTS = LOOKS["light"].parts
TEXT = 'font-family="sans-serif" font-size="12"'


@dataclass(frozen=True)
class MovingCoil:
    """Two drawings and what moves in them.

    Parameters
    ----------
    section, curve : str
        Contents of the two drawings, SVG elements.
    section_size, curve_size : (float, float)
        Width and height in pixels.
    data : mapping
        For a script: ``x_mm``, ``bl``, ``field`` (mean radial flux density over the winding, T),
        ``stops_mm``, ``usable_mm``, ``pixels_per_mm`` of the section, and ``left``, ``right``,
        ``top``, ``bottom`` of the curve's frame in pixels, with the ``bl_top`` at its top.
    """

    section: str
    curve: str
    section_size: tuple[float, float]
    curve_size: tuple[float, float]
    data: dict[str, Any]


def moving_coil(result: MotorResult) -> MovingCoil:
    """Return the drawings of a solved motor with the coil at rest."""
    scale, left, top, size = _frame(result)
    section = _section(result, scale, top) + _strip(result, scale, left, top, size[1])
    frame = _frame_of(result, size[1])
    bl, travel = result.bl_curve, result.travel
    stops = max(-travel.inward, bl.x[0]), min(travel.outward, bl.x[-1])
    return MovingCoil(
        section,
        _curve(result, frame),
        size,
        (CURVE_WIDTH, size[1]),
        {
            "x_mm": _rounded(bl.x * 1e3),
            "bl": _rounded(bl.bl),
            "field": _rounded(bl.bl / result.design.coil.wire_length),
            "stops_mm": _rounded(np.array(stops) * 1e3),
            "usable_mm": float(f"{result.usable_stroke.value * 1e3:.9g}"),
            "pixels_per_mm": scale,
            **{k: getattr(frame, k) for k in ("left", "right", "top", "bottom", "bl_top")},
        },
    )


def moving_svg(result: MotorResult) -> str:
    """Return one SVG file in which the coil moves between the ends of its usable stroke."""
    made = moving_coil(result)
    (width, height), data = made.section_size, made.data
    reach = min(data["usable_mm"], -data["stops_mm"][0], data["stops_mm"][1])
    x = reach * np.sin(2 * np.pi * np.arange(FRAMES + 1) / FRAMES)
    time = f'dur="{SECONDS:g}s" repeatCount="indefinite"'
    shifts = ";".join(f"0 {-data['pixels_per_mm'] * v:.2f}" for v in x)
    shift = (
        f'<animateTransform attributeName="transform" type="translate" values="{shifts}" {time}/>'
    )
    frame = _frame_of(result, height)
    places = {"cx": frame.across(x), "cy": frame.up(result.bl_curve(x * 1e-3))}
    mark = "".join(
        f'<animate attributeName="{name}" values="{";".join(f"{p:.1f}" for p in values)}" {time}/>'
        for name, values in places.items()
    )
    section = made.section.replace("<!--moves-->", shift)
    curve = made.curve.replace("<!--marks-->", mark)
    total = width + CURVE_WIDTH
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{total:.0f}" height="{height + 34:.0f}" '
        f'viewBox="0 0 {total:.0f} {height + 34:.0f}">\n'
        '<rect width="100%" height="100%" fill="white"/>\n'
        f'<text x="16" y="23" font-family="sans-serif" font-size="15">'
        f"{markup_line(result.design.name)}: coil moving over ±{reach:.2f} mm</text>\n"
        f'<g transform="translate(0 34)">{section}</g>\n'
        f'<g transform="translate({width:.1f} 34)">{curve}</g>\n</svg>\n'
    )


def _rounded(values: Floats) -> list[float]:
    return [float(f"{v:.9g}") for v in values]


def _frame(result: MotorResult) -> tuple[float, float, float, tuple[float, float]]:
    """Return pixels per mm, the strip's left edge, the height of z = 0, and the whole size."""
    r, z = _reach(result)
    scale = min(SECTION_WIDTH / r[1], SECTION_HEIGHT / (z[1] - z[0]))
    left = r[1] * scale + SPACE / 2
    return scale, left, z[1] * scale + 8, (left + STRIP + SPACE, (z[1] - z[0]) * scale + 52)


def _reach(result: MotorResult) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the radii and heights to show in mm: the motor, and the winding's whole path."""
    parts = np.array([p for region in result.design.regions for p in region.outline]) * 1e3
    coil = result.design.coil
    x = result.bl_curve.x[[0, -1]]
    ends = (x + np.array([coil.bottom, coil.top])) * 1e3
    pad = 0.06 * float(np.ptp(parts[:, 0]))
    reach = result.usable_stroke.value * 1e3
    ends = np.clip(ends, parts[:, 1].min() - reach, parts[:, 1].max() + 2 * reach)
    low, high = min(parts[:, 1].min(), ends[0]) - pad, max(parts[:, 1].max(), ends[1]) + pad
    return (0.0, float(parts[:, 0].max()) + pad), (float(low), float(high))


def _path(points: Floats, scale: float, top: float) -> str:
    """Return (r, z) in mm as the points of a polygon or polyline."""
    return " ".join(f"{r * scale:.1f},{top - z * scale:.1f}" for r, z in points)


def _section(result: MotorResult, scale: float, top: float) -> str:
    """Return parts, flux lines and winding."""
    look, (r, z) = style(), _reach(result)
    box = (
        f'<clipPath id="moving-frame"><rect width="{r[1] * scale:.1f}" '
        f'height="{(z[1] - z[0]) * scale:.1f}" y="8"/></clipPath>'
    )
    lines = [box, '<g clip-path="url(#moving-frame)">']
    for region in result.design.regions:
        outline = np.array(region.outline) * 1e3
        lines.append(
            f'<polygon points="{_path(outline, scale, top)}" fill="{PARTS[region.role]}" '
            f'stroke="#333"><title>{region.name.replace("_", " ")}</title></polygon>'
        )
    lines += [
        f'<polyline points="{_path(line, scale, top)}" fill="none" stroke="{look.flux}" '
        'stroke-width="0.7"/>'
        for line in _flux_lines(result, r, z)
    ]
    lines += [
        _arrow(np.array(region.outline) * 1e3, np.array(region.magnetisation), scale, top)
        for region in result.design.regions
        if region.magnetisation is not None
    ]
    lines.append("</g>")
    coil = [
        f'<polygon points="{_path(np.array(shape) * 1e3, scale, top)}" fill="{COIL_COLOUR}" '
        f'stroke="white" stroke-width="0.6"><title>{name}</title></polygon>'
        for name, shape in result.design.coil.outlines(drawn=True)
    ]
    lines += ['<g class="moving-coil">', *coil, "<!--moves--></g>"]
    return "\n".join(lines)


def _arrow(outline: Floats, along: Floats, scale: float, top: float) -> str:
    """Return an arrow along the magnetisation, in the middle of a magnet."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    half = 0.3 * float(np.abs(along) @ (high - low)) * along
    start, end = (low + high) / 2 - half, (low + high) / 2 + half
    back = end - 0.35 * (end - start)
    across = 0.18 * np.array([-(end - start)[1], (end - start)[0]])
    head = np.array([back + across, end, back - across])
    return "".join(
        f'<polyline points="{_path(line, scale, top)}" fill="none" stroke="{colour}" '
        f'stroke-width="{width}"/>'
        for colour, width in (("white", 5), ("black", 2))
        for line in (np.array([start, end]), head)
    )


def _flux_lines(
    result: MotorResult, r: tuple[float, float], z: tuple[float, float]
) -> Sequence[Floats]:
    """Return flux lines, the same flux between any two neighbours, mm."""
    across, up = np.linspace(*r, PIXELS), np.linspace(*z, PIXELS)
    psi = result.field.fine.flux_function(*np.meshgrid(across * 1e-3, up * 1e-3))
    return flux_lines(across, up, psi, FLUX_LINES)


def _strip(result: MotorResult, scale: float, left: float, top: float, height: float) -> str:
    """Return B_r along the winding's path, at the section's heights, and the moving winding."""
    look, coil, gap = style(), result.design.coil, result.design.geometry.gap
    foot = height - 44
    z, b = _along_the_path(result)
    most = 1.1 * float(b.max())
    inside = (top - z * scale >= 8) & (top - z * scale <= foot)
    z, b = z[inside], np.clip(b[inside], 0.0, None)
    across = left + b / most * STRIP
    curve = " ".join(f"{x:.1f},{top - v * scale:.1f}" for x, v in zip(across, z, strict=True))
    tick = _round_step(most)
    ticks = [
        f'<text x="{left + k * tick / most * STRIP:.1f}" y="{foot + 16:.1f}" '
        f'text-anchor="middle" {TEXT}>{k * tick:g}</text>'
        for k in range(int(most / tick) + 1)
    ]
    return "\n".join(
        [
            f'<rect x="{left:.1f}" y="8" width="{STRIP:.1f}" height="{foot - 8:.1f}" fill="white" '
            'stroke="#8a8a8a"/>',
            *(
                f'<rect x="{left:.1f}" y="{top - one.top * 1e3 * scale:.1f}" width="{STRIP:.1f}" '
                f'height="{one.depth * 1e3 * scale:.1f}" fill="{look.gap}" fill-opacity="0.6">'
                "<title>gap depth</title></rect>"
                for one in gap.all
            ),
            '<g class="moving-coil">',
            *(
                f'<rect x="{left:.1f}" y="{top - one.top * 1e3 * scale:.1f}" width="{STRIP:.1f}" '
                f'height="{one.winding_height * 1e3 * scale:.1f}" fill="{COIL_COLOUR}" '
                f'fill-opacity="0.22" stroke="{COIL_COLOUR}"><title>winding</title></rect>'
                for one in coil.each
            ),
            "<!--moves--></g>",
            f'<polyline points="{curve}" fill="none" stroke="{look.ink}" stroke-width="2"/>',
            *ticks,
            f'<text x="{left + STRIP / 2:.1f}" y="{foot + 34:.1f}" text-anchor="middle" {TEXT}>'
            "radial flux density in T</text>",
        ]
    )


def _along_the_path(result: MotorResult) -> tuple[Floats, Floats]:
    """Return heights in mm on the whole way of the winding, and B_r in T at its mean radius.

    Where the coil has parts in several gaps, the size of B_r.
    """
    coil, gap, bl = result.design.coil, result.design.geometry.gap, result.bl_curve
    low, high = bl.x[[0, -1]] + np.array([coil.bottom, coil.top])
    z = np.linspace(low, high, SAMPLES)
    radius = result.gap_profile.coil_radius
    b = radial_flux_density(result.field.fine, radius, z, gap.width / 4)
    if coil.parts:
        return z * 1e3, np.abs(b)
    return z * 1e3, b if b[np.abs(b).argmax()] >= 0 else -b


def _round_step(most: float) -> float:
    """Return a round distance of ticks for an axis from 0."""
    rough = most / 3
    power = 10.0 ** math.floor(math.log10(rough))
    return float(min((k * power for k in (1, 2, 5, 10)), key=lambda v: abs(v - rough)))


@dataclass(frozen=True)
class _Frame:
    """Where displacements in mm and Bl in T m stand in the picture of the curve, pixels."""

    left: float
    right: float
    top: float
    bottom: float
    low: float
    high: float
    bl_top: float

    def across(self, x: Any) -> Any:
        return self.left + (x - self.low) / (self.high - self.low) * (self.right - self.left)

    def up(self, value: Any) -> Any:
        return self.bottom - value / self.bl_top * (self.bottom - self.top)


def _frame_of(result: MotorResult, height: float) -> _Frame:
    low, high = (float(x) * 1e3 for x in result.bl_curve.x[[0, -1]])
    most = 1.12 * result.bl_curve.peak.value
    return _Frame(52.0, CURVE_WIDTH - 16, 8.0, height - 44, low, high, most)


def _curve(result: MotorResult, frame: _Frame) -> str:
    """Return Bl over displacement with the usable band, stops and a marker."""
    look, bl = style(), result.bl_curve
    low, high, across, up = frame.low, frame.high, frame.across, frame.up

    def band(start: float, end: float, colour: str, title: str, opacity: float) -> str:
        start, end = max(start, low), min(end, high)
        if end <= start:
            return ""
        return (
            f'<rect x="{across(start):.1f}" y="{frame.top:.1f}" '
            f'width="{across(end) - across(start):.1f}" '
            f'height="{frame.bottom - frame.top:.1f}" fill="{colour}" '
            f'fill-opacity="{opacity}"><title>{title}</title></rect>'
        )

    usable, travel = result.usable_stroke.value * 1e3, result.travel
    points = " ".join(
        f"{a:.1f},{b:.1f}"
        for a, b in zip(across(bl.x * 1e3), up(np.maximum(bl.bl, 0.0)), strict=True)
    )
    step_x, step_y = _round_step(0.8 * (high - low)), _round_step(1.5 * frame.bl_top)
    words = [
        f'<text x="{across(v):.1f}" y="{frame.bottom + 16:.1f}" text-anchor="middle" {TEXT}>'
        f"{v:g}</text>"
        for v in np.arange(math.ceil(low / step_x), math.floor(high / step_x) + 1) * step_x
    ]
    words += [
        f'<text x="{frame.left - 7:.1f}" y="{up(v) + 4:.1f}" text-anchor="end" {TEXT}>{v:g}</text>'
        for v in np.arange(int(frame.bl_top / step_y) + 1) * step_y
    ]
    middle = (frame.top + frame.bottom) / 2
    return "\n".join(
        [
            f'<rect x="{frame.left:.1f}" y="{frame.top:.1f}" '
            f'width="{frame.right - frame.left:.1f}" '
            f'height="{frame.bottom - frame.top:.1f}" fill="white" stroke="#8a8a8a"/>',
            band(-usable, usable, look.safe, "usable stroke", 1.0),
            band(low, -travel.inward * 1e3, look.quiet, "past the mechanical limit", 0.3),
            band(travel.outward * 1e3, high, look.quiet, "past the mechanical limit", 0.3),
            f'<polyline points="{points}" fill="none" stroke="{look.ink}" stroke-width="2.2"/>',
            *words,
            f'<text x="{(frame.left + frame.right) / 2:.1f}" y="{frame.bottom + 34:.1f}" '
            f'text-anchor="middle" {TEXT}>coil displacement x in mm (positive outwards)</text>',
            f'<text transform="rotate(-90 14 {middle:.1f})" x="14" y="{middle:.1f}" '
            f'text-anchor="middle" {TEXT}>Bl in T m</text>',
            f'<circle class="moving-mark" r="6.5" cx="{across(0.0):.1f}" '
            f'cy="{up(bl.at_rest.value):.1f}" fill="{COIL_COLOUR}" stroke="white" '
            'stroke-width="1.5"><!--marks--></circle>',
        ]
    )
