"""What the figures of a study's page share: sources, pointers, the ring around a design."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bokeh.models import ColumnDataSource, CustomJS, CustomJSHover, HoverTool, TapTool
from bokeh.plotting import figure

from motor.report.page.theme import Entry
from motor.report.style import style

__all__ = ["MANY", "first_source", "mark_keys", "pointed", "ring", "source_of"]

MANY = 400
"""Marks above this number are drawn as pixels."""


TIP = '<div style="white-space:pre;font:13px system-ui,sans-serif">@number{custom}</div>'


def mark_keys() -> tuple[Entry, ...]:
    """Return what the marks of every figure mean."""
    return (
        Entry("chosen", style().second, area="ring"),
        Entry("base design", "#000000", area="cross"),
    )


def source_of(name: str, *columns: str) -> ColumnDataSource:
    """Return an empty source that the scripts find by its name."""
    return ColumnDataSource({column: [] for column in columns}, name=name)


def first_source(name: str, *columns: str) -> ColumnDataSource:
    """Return a source with two marks, so that the figure has ranges until it is filled."""
    return ColumnDataSource({column: [0.0, 1.0] for column in columns}, name=name)


def pointed(made: figure, renderers: Sequence[Any], *, tap: bool = True) -> None:
    """Show a design's values under the pointer; choose it with a tap."""
    spoken = CustomJSHover(code="return motorStudy.tip(value)")
    made.add_tools(
        HoverTool(
            tooltips=TIP,
            formatters={"@number": spoken},
            renderers=list(renderers),
            mode="mouse",
            point_policy="snap_to_data",
            visible=False,
        )
    )
    if not tap:
        return
    made.add_tools(TapTool(renderers=list(renderers), visible=False))
    for renderer in renderers:
        source = renderer.data_source
        source.selected.js_on_change(
            "indices",
            CustomJS(
                args={"source": source},
                code="""const at = source.selected.indices;
                if (at.length) {
                  motorStudy.choose(source.data.number[at[0]]);
                  source.selected.indices = [];
                }""",
            ),
        )
        renderer.nonselection_glyph = None
        renderer.selection_glyph = None


def ring(made: figure, name: str) -> Any:
    """Mark the chosen design and the base design; return the mark of the base."""
    base = made.scatter(
        "x",
        "y",
        source=source_of(name.replace("chosen", "base"), "x", "y", "number"),
        marker="x",
        size=13,
        line_color="#000000",
        line_width=2.6,
    )
    chosen = source_of(name, "x", "y")
    for colour, width in (("white", 7), (style().second, 3)):
        made.scatter(
            "x",
            "y",
            source=chosen,
            marker="circle",
            size=17,
            fill_alpha=0.0,
            line_color=colour,
            line_width=width,
        )
    return base
