"""The flux density over the half section, with flux lines and the parts' outlines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from bokeh.models import ColorBar, CustomJSHover, LinearColorMapper

from geometries import Role
from motor.base.arrays import Floats
from motor.report.figures.field import STRONGEST, flux_lines, section_window
from motor.report.page.theme import Plot, chart, hover, palette
from motor.report.style import style

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["field_plot"]

PIXELS = 340
"""Of the longer side: half the bytes of the page would be this image otherwise."""
BESIDE, ABOVE = 112, 84
"""CSS pixels that axis and colour bar take beside, axis and tools above and below."""


def field_plot(result: MotorResult) -> Plot:
    """Return |B| as an image; the pointer reads r, z, |B| and the part there."""
    look = style()
    r, z = _axes(result)
    points = np.meshgrid(r, z)
    level = result.field.fine
    size = np.hypot(*np.moveaxis(level.flux_density(*points), -1, 0))
    part, names = _parts(result, *points)
    width, height = float(np.ptp(r)) * 1e3, float(np.ptp(z)) * 1e3
    made = chart(
        "r in mm",
        "z above the middle of the gap in mm",
        vector=False,
        sizing_mode="scale_width",
        width=540 + BESIDE,
        height=round(540 * height / width) + ABOVE,
        match_aspect=True,
        x_range=(0.0, r[-1] * 1e3),
        y_range=(z[0] * 1e3, z[-1] * 1e3),
    )
    colours = LinearColorMapper(palette=palette(look.field_map), low=0.0, high=STRONGEST)
    image = made.image(
        image="image",
        x=0.0,
        y=z[0] * 1e3,
        dw=width,
        dh=height,
        color_mapper=colours,
        source={"image": [size.astype(np.float32)], "part": [part]},
    )
    psi = level.flux_function(*points)
    lines = flux_lines(r * 1e3, z * 1e3, psi)
    made.multi_line(
        xs=[line[:, 0].astype(np.float32) for line in lines],
        ys=[line[:, 1].astype(np.float32) for line in lines],
        line_color=look.flux,
        line_width=0.9,
    )
    for region in result.design.regions:
        outline = np.array([*region.outline, region.outline[0]]) * 1e3
        dash = "dashed" if region.role is Role.CONDUCTOR else "solid"
        made.line(*outline.T, line_color="black", line_width=1.4, line_dash=dash)
    for _, shape in result.design.coil.outlines(drawn=True):
        made.patch(*(np.array(shape) * 1e3).T, color=look.conductor, line_color="black")
    bar = ColorBar(color_mapper=colours, title="|B| in T", width=12, title_standoff=8)
    bar.title_text_font_style = "normal"
    made.add_layout(bar, "right")
    spoken = CustomJSHover(args={"names": names}, code="return names[value]")
    tips = [("r", "$x{0.00} mm"), ("z", "$y{0.00} mm"), ("|B|", "@image{0.000} T")]
    hover(
        made,
        [*tips, ("part", "@part{custom}")],
        [image],
        mode="mouse",
        formatters={"@part": spoken},
    )
    return Plot(made)


def _axes(result: MotorResult) -> tuple[Floats, Floats]:
    """Return the radii and heights of the image's points in metres."""
    coil = [shape for _, shape in result.design.coil.outlines(drawn=True)]
    width, low, high = section_window(result.field, coil)
    step = max(width, high - low) / PIXELS
    r = np.linspace(0.0, width, int(width / step))
    z = np.linspace(low, high, int((high - low) / step))
    return r, z


def _parts(result: MotorResult, r: Floats, z: Floats) -> tuple[Any, list[str]]:
    """Return for each point the index of its part in a list of names."""
    mesh = result.field.fine.system.mesh
    triangle, _ = mesh.locate(r.ravel(), z.ravel())
    part = mesh.label[triangle].reshape(r.shape).astype(np.uint8)
    names = [name.replace("_", " ") for name in mesh.names]
    for name, shape in result.design.coil.outlines(drawn=True):
        (r0, z0), (r1, z1) = np.min(shape, axis=0), np.max(shape, axis=0)
        part[(r >= r0) & (r <= r1) & (z >= z0) & (z <= z1)] = len(names)
        names.append(name)
    return part, names
