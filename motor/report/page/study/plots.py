"""The empty figures of a study's page; its scripts fill them with what is selected."""

from __future__ import annotations

from collections.abc import Sequence

from bokeh.models import (
    ColorBar,
    DataRange1d,
    HoverTool,
    LinearColorMapper,
)

from motor.report.page.study.markers import MANY, first_source, mark_keys, pointed, ring, source_of
from motor.report.page.theme import Entry, Plot, chart, palette
from motor.report.style import style

__all__ = [
    "compare_plot",
    "compared",
    "curves_plot",
    "front_plot",
    "histogram_plot",
    "map_plot",
    "pair_plot",
]

PAPER = "white"
DASHES: tuple[tuple[int, ...], ...] = ((), (8, 4), (2, 3), (10, 3, 2, 3), (12, 4), (4, 2))
MARKERS = ("circle", "square", "diamond", "triangle", "inverted_triangle", "star")


def compared() -> tuple[Entry, ...]:
    """Return the keys of four curves apart by colour, lightness and dash."""
    colours = style().series
    return tuple(Entry(name, colours[k], DASHES[k], 2.6) for k, name in enumerate("ABCD"))


def map_plot(x: str, y: str, cells: int) -> Plot:
    """Return a map: one field a design, lines of equal value, failed designs hatched."""
    made = chart(x, y, height=470, vector=cells <= MANY)
    made.grid.visible = False
    for span in (made.x_range, made.y_range):
        span.range_padding = 0.0
    colours = LinearColorMapper(
        palette=palette(style().value_map), low=0.0, high=1.0, name="map-colours"
    )
    edges = ("left", "right", "bottom", "top")
    fields = made.quad(
        **dict(zip(edges, edges, strict=True)),
        source=first_source("map-cells", *edges, "value", "number"),
        fill_color={"field": "value", "transform": colours},
        line_color=PAPER,
        line_width=0.5 if cells <= MANY else 0.0,
    )
    failed = made.quad(
        **dict(zip(edges, edges, strict=True)),
        source=source_of("map-failed", *edges, "number"),
        fill_color="#f2f3f1",
        hatch_pattern="right_diagonal_line",
        hatch_color=style().quiet,
        hatch_alpha=0.7,
        line_color=style().quiet,
        line_width=0.5,
    )
    made.multi_line(
        "xs", "ys", source=source_of("map-lines", "xs", "ys"), line_color="#000000", line_width=1.1
    )
    made.text(
        "x",
        "y",
        text="text",
        source=source_of("map-labels", "x", "y", "text"),
        text_align="center",
        text_baseline="middle",
        text_font_size="12px",
        text_color="#000000",
        background_fill_color=PAPER,
        background_fill_alpha=0.85,
        padding=2,
    )
    base = ring(made, "map-chosen")
    bar = ColorBar(color_mapper=colours, width=14, name="map-bar", title_standoff=8)
    bar.title_text_font_style = "normal"
    bar.title = " "
    made.add_layout(bar, "right")
    pointed(made, [fields, failed, base])
    key = (
        Entry("lines of equal value, interpolated between the designs", "#000000", (), 1.1),
        Entry("no result", style().quiet, area="hatched"),
        *mark_keys(),
    )
    return Plot(made, key)


def curves_plot(x: str, names: Sequence[str]) -> Plot:
    """Return curves over one varied parameter with their numerical uncertainty as bands."""
    made = chart(x, " ", height=420, name="curves-figure", y_range=DataRange1d(range_padding=0.12))
    key, renderers = [], []
    for k, name in enumerate(names):
        look = style()
        marker, dash = MARKERS[k % len(MARKERS)], DASHES[k % len(DASHES)]
        colour = look.series[k % len(look.series)]
        source = first_source(f"curve-{k}", "x", "y", "low", "high", "number")
        made.varea("x", "low", "high", source=source, color=colour, alpha=0.3)
        made.line("x", "y", source=source, color=colour, line_width=2.2, line_dash=list(dash))
        renderers.append(made.scatter("x", "y", source=source, color=colour, marker=marker, size=9))
        label = name or "designs, numerical uncertainty as a band"
        key.append(Entry(label, colour, dash, 2.2))
    base = ring(made, "curves-chosen")
    pointed(made, [*renderers, base])
    return Plot(made, (*key, *mark_keys()))


def pair_plot(count: int) -> Plot:
    """Return all designs over two selected columns, coloured by a third."""
    made = chart(" ", " ", height=470, vector=count <= MANY, name="pair-figure")
    colours = LinearColorMapper(
        palette=palette(style().value_map), low=0.0, high=1.0, nan_color=PAPER, name="pair-colours"
    )
    points = made.scatter(
        "x",
        "y",
        source=first_source("pair-points", "x", "y", "value", "number"),
        size=10 if count <= MANY else 6,
        fill_color={"field": "value", "transform": colours},
        line_color="#333333",
        line_width=0.6,
    )
    base = ring(made, "pair-chosen")
    bar = ColorBar(color_mapper=colours, width=14, name="pair-bar", title_standoff=8)
    bar.title_text_font_style = "normal"
    bar.title = " "
    made.add_layout(bar, "right")
    pointed(made, [points, base])
    return Plot(made, mark_keys())


def front_plot(count: int) -> Plot:
    """Return two results against each other: front in front, all others quiet."""
    made = chart(" ", " ", height=450, vector=count <= MANY, name="front-figure")
    rest = made.scatter(
        "x",
        "y",
        source=first_source("front-rest", "x", "y", "number"),
        size=8 if count <= MANY else 5,
        color=style().quiet,
        fill_alpha=0.35,
        line_alpha=0.8,
    )
    best = source_of("front-best", "x", "y", "number")
    made.line("x", "y", source=best, color=style().ink, line_width=1.6)
    front = made.scatter("x", "y", source=best, marker="diamond", size=14, color=style().ink)
    base = ring(made, "front-chosen")
    pointed(made, [rest, front, base])
    key = (
        Entry("Pareto front: no design is better in both", style().ink, (), 2),
        Entry("beaten by another design", style().quiet, area="dot"),
        *mark_keys(),
    )
    return Plot(made, key)


def compare_plot() -> Plot:
    """Return Bl(x) of up to four designs."""
    made = chart(
        "coil displacement x in mm (positive outwards)",
        "Bl in T m",
        height=380,
        y_range=DataRange1d(start=0.0, name="compare-force"),
    )
    for entry in compared():
        source = first_source(f"compare-{entry.label}", "x", "bl", "low", "high")
        made.varea("x", "low", "high", source=source, color=entry.colour, alpha=0.2)
        line = made.line(
            "x",
            "bl",
            source=source,
            color=entry.colour,
            line_width=entry.width,
            line_dash=list(entry.dash) or "solid",
        )
        made.add_tools(
            HoverTool(
                tooltips=[
                    ("design", entry.label),
                    ("x", "@x{+0.00} mm"),
                    ("Bl", "@bl{0.0000} T m"),
                ],
                renderers=[line],
                mode="vline",
                line_policy="nearest",
                visible=False,
            )
        )
    return Plot(made, compared())


def histogram_plot() -> Plot:
    """Return the distribution of a selected result with limits and percentiles."""
    made = chart(" ", "number of motors", height=400, name="spread-figure")
    made.y_range.start = 0.0
    bars = made.quad(
        left="left",
        right="right",
        bottom=0,
        top="top",
        source=first_source("spread-bars", "left", "right", "top"),
        fill_color="#8fa6bd",
        line_color=style().ink,
        line_width=0.8,
    )
    for name, colour, dash, width in (
        ("spread-limits", style().second, [8, 4], 2.6),
        ("spread-tests", style().second, [2, 4], 2.2),
        ("spread-percentiles", style().ink, [2, 3], 1.8),
    ):
        made.segment(
            "x",
            "low",
            "x",
            "high",
            source=source_of(name, "x", "low", "high"),
            line_color=colour,
            line_dash=dash,
            line_width=width,
        )
    made.add_tools(
        HoverTool(
            tooltips=[("from", "@left{0.0000}"), ("to", "@right{0.0000}"), ("motors", "@top{0}")],
            renderers=[bars],
            visible=False,
        )
    )
    key = (
        Entry("motors", "#8fa6bd", area="filled"),
        Entry("limit", style().second, (8, 4), 2.6),
        Entry("test limit", style().second, (2, 4), 2.2),
        Entry("2.5 %, 50 % and 97.5 % of the motors are below", style().ink, (2, 3), 1.8),
    )
    return Plot(made, key)
