"""The curves of a page: gap profile, Bl(x), the live Bl(x), and the temperature sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from bokeh.models import BoxAnnotation, ColumnDataSource, DataRange1d, Span
from bokeh.plotting import figure

from motor.report.page.theme import DASHES, Entry, Plot, chart, hover
from motor.report.style import style

if TYPE_CHECKING:
    from motor.results.bl import BlCurve
    from motor.results.motor_result import MotorResult
    from motor.results.temperature_sweep import TemperatureSweep

__all__ = ["bl_plot", "gap_plot", "live_plot", "sweep_plots"]

DISPLACEMENT = "coil displacement x in mm (positive outwards)"
FORCE_FACTOR = "Bl in T m"
SHARES = (("share_82", 0.82), ("share_70", 0.70))


def _curve(curve: BlCurve) -> dict[str, Any]:
    spread = np.nan_to_num(curve.uncertainty)
    return {
        "x": curve.x * 1e3,
        "bl": curve.bl,
        "low": curve.bl - spread,
        "high": curve.bl + spread,
        "spread": spread,
    }


def _posts(curve: BlCurve, share: float) -> tuple[list[float], list[float]]:
    """Return a goal post: up, across and down where Bl has fallen to a share of rest."""
    stroke, level = curve.stroke(share), share * curve.at_rest.value
    ends = np.clip([-stroke.inward.value, stroke.outward.value], curve.x[0], curve.x[-1]) * 1e3
    return [ends[0], ends[0], ends[1], ends[1]], [0.0, level, level, 0.0]


def _force_range(curve: BlCurve, **options: Any) -> DataRange1d:
    return DataRange1d(start=min(0.0, 1.05 * float(curve.bl.min())), **options)


def _side(stroke: float) -> str:
    return f"{stroke * 1e3:.2f}" if np.isfinite(stroke) else "not reached"


def bl_plot(result: MotorResult) -> Plot:
    """Return Bl(x) with both strokes, uncertainty and the mechanical limits."""
    look = style()
    curve = result.bl_curve
    source = ColumnDataSource(_curve(curve))
    made = chart(DISPLACEMENT, FORCE_FACTOR, height=400, y_range=_force_range(curve))
    made.varea("x", "low", "high", source=source, color=look.ink, alpha=0.25)
    line = made.line("x", "bl", source=source, color=look.ink, line_width=2.4)
    key = [
        Entry("Bl(x), with its numerical uncertainty as a band", look.ink),
    ]
    for name, share in SHARES:
        stroke = curve.stroke(share)
        made.line(
            *_posts(curve, share),
            color=look.second,
            line_dash=DASHES[name],
            line_width=1.6,
        )
        sides = f"inward {_side(stroke.inward.value)}, outward {_side(stroke.outward.value)}"
        key.append(
            Entry(f"{100 * share:.0f} % of rest: {sides} mm", look.second, DASHES[name], 1.6)
        )
    travel = result.travel
    for sign, limit in ((-1.0, travel.inward), (1.0, travel.outward)):
        if limit < abs(curve.x[0 if sign < 0 else -1]):
            key.append(_limit(made, sign, limit))
    hover(
        made,
        [("x", "@x{+0.00} mm"), ("Bl", "@bl{0.0000} T m"), ("numerical", "± @spread{0.0000} T m")],
        [line],
    )
    return Plot(made, tuple(key))


def _limit(made: figure, sign: float, limit: float) -> Entry:
    """Shade what lies past a mechanical limit (metres)."""
    look = style()
    edge = sign * limit * 1e3
    made.add_layout(_stop(sign, edge))
    return Entry(f"past the mechanical limit, {edge:+.2f} mm", look.quiet, area="hatched")


def _stop(sign: float, edge: float | None, **options: Any) -> BoxAnnotation:
    """Return a hatched area to one side of a displacement in mm."""
    look = style()
    side = "right" if sign < 0 else "left"
    return BoxAnnotation(
        **{side: edge},
        fill_color=look.quiet,
        fill_alpha=0.18,
        hatch_pattern="right_diagonal_line",
        hatch_alpha=0.25,
        line_color=None,
        level="underlay",
        **options,
    )


def live_plot(result: MotorResult) -> Plot:
    """Return Bl(x) of the design, and beside it the curve that the page's script moves."""
    look = style()
    curve = result.bl_curve
    before = ColumnDataSource(_curve(curve))
    live = ColumnDataSource(_curve(curve), name="live-curve")
    force = _force_range(curve, name="live-force")
    made = chart(DISPLACEMENT, FORCE_FACTOR, height=400, y_range=force)
    made.varea("x", "low", "high", source=live, color=look.ink, alpha=0.25)
    made.line(
        "x",
        "bl",
        source=before,
        color=look.quiet,
        line_dash=DASHES["before"],
        line_width=2,
    )
    line = made.line("x", "bl", source=live, color=look.ink, line_width=2.4)
    key = [
        Entry("with these settings", look.ink),
        Entry("as designed", look.quiet, DASHES["before"], 2),
    ]
    for name, share in SHARES:
        x, y = _posts(curve, share)
        made.line(
            "x",
            "y",
            source=ColumnDataSource({"x": x, "y": y}, name=f"live-{name}"),
            color=look.second,
            line_dash=DASHES[name],
            line_width=1.6,
        )
        key.append(Entry(f"{100 * share:.0f} % of rest", look.second, DASHES[name], 1.6))
    usable = result.usable_stroke.value * 1e3
    for sign, limit in ((-1.0, result.travel.inward), (1.0, result.travel.outward)):
        side = "in" if sign < 0 else "out"
        near = bool(limit < abs(curve.x[0 if sign < 0 else -1]))
        edge = sign * limit * 1e3 if near else 0.0
        made.add_layout(_stop(sign, edge, name=f"live-stop-{side}", visible=near))
        made.add_layout(
            Span(
                location=sign * usable,
                dimension="height",
                line_color=look.ink,
                line_width=1.2,
                line_dash=DASHES["usable"],
                name=f"live-usable-{side}",
            )
        )
    key.append(Entry("past the mechanical limit", look.quiet, area="hatched"))
    key.append(Entry("usable stroke", look.ink, DASHES["usable"], 1.2))
    hover(
        made,
        [("x", "@x{+0.00} mm"), ("Bl", "@bl{0.0000} T m"), ("numerical", "± @spread{0.0000} T m")],
        [line],
    )
    return Plot(made, tuple(key))


def gap_plot(result: MotorResult) -> Plot:
    """Return B_r along the gap at the winding and in the middle of the gap."""
    look = style()
    profile, coil = result.gap_profile, result.design.coil
    spread = np.nan_to_num(profile.uncertainty)
    source = ColumnDataSource(
        {
            "z": profile.z * 1e3,
            "coil": profile.at_coil,
            "middle": profile.at_middle,
            "low": profile.at_coil - spread,
            "high": profile.at_coil + spread,
            "spread": spread,
        }
    )
    made = chart("height z above the middle of the gap in mm", "radial flux density in T")
    gap = profile.gap
    made.add_layout(
        BoxAnnotation(
            left=gap.bottom * 1e3,
            right=gap.top * 1e3,
            fill_color=look.gap,
            fill_alpha=0.6,
            line_color=None,
            level="underlay",
        )
    )
    made.varea("z", "low", "high", source=source, color=look.ink, alpha=0.25)
    line = made.line(
        "z",
        "coil",
        source=source,
        color=look.ink,
        line_width=2.4,
    )
    made.line(
        "z",
        "middle",
        source=source,
        color=look.second,
        line_dash=DASHES["share_82"],
        line_width=1.6,
    )
    top = float(max(profile.at_coil.max(), profile.at_middle.max()))
    low = min(0.0, float(profile.at_coil.min()))
    ends = [(coil.rest_position + s * coil.winding_height / 2) * 1e3 for s in (-1, 1)]
    made.line(
        ends,
        [low - 0.07 * top] * 2,
        color=look.conductor,
        line_width=6,
    )
    hover(
        made,
        [
            ("z", "@z{+0.00} mm"),
            ("at the winding", "@coil{0.0000} ± @spread{0.0000} T"),
            ("middle of the gap", "@middle{0.0000} T"),
        ],
        [line],
    )
    key = (
        Entry(f"at the winding's mean radius, {profile.coil_radius * 1e3:.2f} mm", look.ink),
        Entry(
            f"in the middle of the gap, {profile.middle_radius * 1e3:.2f} mm",
            look.second,
            DASHES["share_82"],
            1.6,
        ),
        Entry(f"gap depth {gap.depth * 1e3:.3g} mm", look.gap, area="filled"),
        Entry(f"winding at rest, {coil.winding_height * 1e3:.3g} mm", look.conductor, width=6),
    )
    return Plot(made, key)


def sweep_plots(sweep: TemperatureSweep) -> dict[str, Plot]:
    """Return Bl, stroke, resistance and margin to the knee over temperature."""
    look = style()
    rows = sweep.rows()
    columns = {key: np.array([row[key] for row in rows], float) for key in rows[0]}
    margin, spread = (columns[f"demag_margin_{k}kA_per_m"] for k in ("", "uncertainty_"))
    columns |= {"margin_low": margin - spread, "margin_high": margin + spread}
    source = ColumnDataSource(columns)
    made = {}
    for name, column, axis, unit in (
        ("sweep_bl", "bl_at_rest_Tm", "Bl at rest in T m", "T m"),
        ("sweep_stroke", "stroke_82_mm", "82 % stroke in mm", "mm"),
        ("sweep_resistance", "coil_resistance_ohm", "coil resistance in ohm", "ohm"),
        ("sweep_margin", "demag_margin_kA_per_m", "margin to the knee in kA/m", "kA/m"),
    ):
        if not np.isfinite(columns[column]).any():
            continue
        plot = chart(
            "temperature in degC",
            axis,
            height=250,
            y_range=DataRange1d() if column.startswith("demag") else DataRange1d(start=0.0),
        )
        line = plot.line("temperature_degC", column, source=source, color=look.ink, line_width=2.2)
        plot.scatter("temperature_degC", column, source=source, color=look.ink, size=5)
        key: tuple[Entry, ...] = ()
        tips = [
            ("at", "@temperature_degC{0} degC"),
            (axis.split(" in ")[0], f"@{column}{{0.000}} {unit}"),
        ]
        if name == "sweep_bl":
            back = "bl_back_at_20_degC_Tm"
            plot.line(
                "temperature_degC",
                back,
                source=source,
                color=look.second,
                line_dash=DASHES["share_82"],
                line_width=1.8,
            )
            key = (
                Entry("at that temperature", look.ink),
                Entry("back at 20 degC", look.second, DASHES["share_82"], 1.8),
            )
            tips.append(("back at 20 degC", f"@{back}{{0.000}} T m"))
        if name == "sweep_margin":
            band = {"color": look.ink, "alpha": 0.25, "source": source}
            plot.varea("temperature_degC", "margin_low", "margin_high", **band)
            tips.append(("± numerical", "@demag_margin_uncertainty_kA_per_m{0.0} kA/m"))
            plot.add_layout(
                Span(location=0, dimension="width", line_color=look.second, line_width=1.5)
            )
        hover(plot, tips, [line])
        made[name] = Plot(plot, key)
    return made
