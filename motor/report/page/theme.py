"""What all figures of a page look like: dashes, axes, hover; colours are those of all figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from bokeh.models import HoverTool
from bokeh.plotting import figure
from matplotlib.colors import to_hex

from motor.report.style import style

__all__ = ["DASHES", "Entry", "Plot", "chart", "hover", "palette"]

PAPER = "#ffffff"
TEXT = "#20292f"
GRID = "#e3e6e8"

DASHES = {
    "share_82": [7, 4],
    "share_70": [9, 3, 2, 3],
    "before": [3, 3],
    "usable": [1, 2],
}
FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif"


def chart(x: str, y: str, *, height: int = 360, vector: bool = True, **options: Any) -> figure:
    """Return an empty figure as wide as the page lets it be.

    Parameters
    ----------
    x, y : str
        Names of the axes with their units.
    height : int
        CSS pixels.
    vector : bool
        False for figures with an image.
    **options
        Of the figure.
    """
    ink = style().ink
    settings: dict[str, Any] = {
        "sizing_mode": "stretch_width",
        "height": height,
        "min_width": 240,
        "tools": "pan,box_zoom",
        "active_drag": None,
        "toolbar_location": None,
        "output_backend": "svg" if vector else "canvas",
        "x_axis_label": x,
        "y_axis_label": y,
        "background_fill_color": PAPER,
        "border_fill_color": PAPER,
        "outline_line_color": ink,
    }
    made = figure(**(settings | options))
    for axis in made.axis:
        axis.axis_label_text_font_style = "normal"
        axis.axis_label_text_font = axis.major_label_text_font = FONT
        axis.axis_label_text_font_size = axis.major_label_text_font_size = "13px"
        axis.axis_label_text_color = axis.major_label_text_color = TEXT
        axis.axis_line_color = axis.major_tick_line_color = ink
        axis.minor_tick_line_color = None
    made.grid.grid_line_color = GRID
    return made


def palette(part: tuple[str, float, float]) -> list[str]:
    """Return the colours of the used part of a colour map, weak to strong; see `Style`."""
    colours = style().map(part)
    return [to_hex(colours(k)) for k in range(colours.N)]


@dataclass(frozen=True)
class Entry:
    """One line of a figure's key: what a curve or a filled area means.

    ``dash`` in CSS pixels, none for a solid line; ``area`` is "", "filled" or "hatched",
    or a mark: "ring", "cross" or "dot".
    """

    label: str
    colour: str
    dash: Sequence[int] = ()
    width: float = 2.4
    area: str = ""


@dataclass(frozen=True)
class Plot:
    """A figure and its key, which the page shows as text above it."""

    figure: figure
    key: tuple[Entry, ...] = ()


def hover(
    made: figure, lines: Sequence[tuple[str, str]], renderers: Sequence[Any], **options: Any
) -> None:
    """Show values with their units under the pointer."""
    settings: dict[str, Any] = {
        "mode": "vline",
        "line_policy": "nearest",
        "visible": False,
    } | options
    made.add_tools(HoverTool(tooltips=list(lines), renderers=list(renderers), **settings))
