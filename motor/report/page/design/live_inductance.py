"""Inductance of the winding that the page's sliders make: data, plot and rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from bokeh.models import ColumnDataSource

from motor.report.page.design.live_data import packed
from motor.report.page.design.plots import DISPLACEMENT
from motor.report.page.theme import DASHES, Entry, Plot, chart, hover
from motor.report.style import style
from motor.results.winding_modes import FAR_HEIGHT, FAR_LAYERS

if TYPE_CHECKING:
    from motor.results.impedance import BlockedImpedance
    from motor.results.winding_modes import WindingModes

__all__ = ["inductance_data", "inductance_plot", "inductance_rows"]

NEAR = 1e3
"""Hertz: figures are shown at the frequency nearest to this."""


def _shown(found: BlockedImpedance) -> list[int]:
    """Return the frequencies that are drawn by their places: lowest, middle and highest."""
    last = len(found.frequency) - 1
    return sorted({0, last // 2, last})


def _chosen(found: BlockedImpedance) -> int:
    return int(np.abs(np.log(np.maximum(found.frequency, 1e-3) / NEAR)).argmin())


def inductance_data(modes: WindingModes, found: BlockedImpedance) -> dict[str, Any]:
    """Return what the script computes with; SI units.

    The mesh's own relative uncertainties are those of the design's winding at rest.
    """
    shown = sorted({*_shown(found), _chosen(found)})
    rest = found.rest

    def share(what: str) -> list[float]:
        value, doubt = getattr(found, what), getattr(found, f"{what}_uncertainty")
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = doubt[shown, rest] / np.abs(value[shown, rest])
        return [float(s) for s in np.nan_to_num(shares, nan=0.0, posinf=0.0)]

    return {
        "time_constant": modes.time_constant.tolist(),
        "radius": list(modes.radius),
        "height": list(modes.height),
        "shape": list(modes.flux.shape),
        "flux": packed(modes.flux, "<f4"),
        "own": modes.own.tolist(),
        "far": modes.far.tolist(),
        "winding": list(modes.winding),
        "far_height": FAR_HEIGHT,
        "far_layers": FAR_LAYERS,
        "frequency": found.frequency[shown].tolist(),
        "chosen": shown.index(_chosen(found)),
        "drawn": [shown.index(k) for k in _shown(found)],
        "mesh": {"inductance": share("inductance"), "resistance": share("eddy_resistance")},
    }


def inductance_plot(found: BlockedImpedance) -> Plot:
    """Return L(x) of the design at some frequencies, and the curves that the script moves."""
    look = style()
    made = chart(DISPLACEMENT, "L in mH", height=400)
    key, lines = [], []
    for place, k in enumerate(_shown(found)):
        colour = look.line(place)["color"]
        x, value = found.position * 1e3, found.inductance[k] * 1e3
        doubt = np.nan_to_num(found.inductance_uncertainty[k] * 1e3)
        curve = {"x": x, "l": value, "low": value - doubt, "high": value + doubt, "spread": doubt}
        made.line(x, value, color=colour, line_dash=DASHES["before"], line_width=1.6)
        live = ColumnDataSource(curve, name=f"live-inductance-{place}")
        made.varea("x", "low", "high", source=live, color=colour, alpha=0.25)
        lines.append(made.line("x", "l", source=live, color=colour, line_width=2.4))
        key.append(Entry(f"{found.frequency[k]:g} Hz, with these settings", colour))
    key.append(Entry("as designed", look.quiet, DASHES["before"], 1.6))
    tips = [("x", "@x{+0.00} mm"), ("L", "@l{0.0000} mH"), ("numerical", "± @spread{0.0000} mH")]
    hover(made, tips, lines)
    return Plot(made, tuple(key))


def inductance_rows(found: BlockedImpedance) -> list[dict[str, str]]:
    """Return key, name and unit of each figure; the script fills in all values."""
    at = f"{found.frequency[_chosen(found)]:g} Hz"
    figures = (
        ("inductance", f"inductance at rest, {at}", "mH"),
        ("inductance_swing", f"its swing over the 82 % stroke, {at}", "mH"),
        ("eddy_resistance", f"resistance by eddy currents at rest, {at}", "ohm"),
    )
    return [{"key": key, "what": what, "unit": unit, "value": ""} for key, what, unit in figures]
