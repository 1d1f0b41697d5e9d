"""What Bl(x) shows besides the curve: usable stroke, lean, best rest position."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

import motor
from motor.report.figures.curves import plot_bl, plot_motor_bl
from motor.report.style import blank


@pytest.fixture(scope="module")
def result() -> motor.MotorResult:
    return motor.solve(motor.read_design("studies/designs/door_woofer_ferrite.toml"))


def drawn(result: motor.MotorResult) -> Figure:
    figure = Figure(layout="constrained")
    plot_motor_bl(result, figure)
    return figure


def _band(ax) -> tuple[float, float]:
    found = [p for p in ax.patches if isinstance(p, Rectangle) and "usable" in p.get_label()]
    assert len(found) == 1
    return found[0].get_x(), found[0].get_x() + found[0].get_width()


def test_the_band_is_the_usable_stroke(result: motor.MotorResult) -> None:
    ax = drawn(result).axes[0]
    reach = result.usable_stroke.value * 1e3
    assert _band(ax) == pytest.approx((-reach, reach))


def test_the_strip_below_shows_the_asymmetry(result: motor.MotorResult) -> None:
    _, strip = drawn(result).axes
    x, lean = strip.get_lines()[0].get_data()
    x, lean = np.asarray(x), np.asarray(lean)
    out, back = result.bl_curve(x * 1e-3), result.bl_curve(-x * 1e-3)
    known = np.isfinite(lean)
    assert known.sum() > 100
    np.testing.assert_allclose(lean[known], (100 * (out - back) / (out + back))[known], atol=1e-9)


def test_lines_stand_only_where_bl_really_falls_so_far(result: motor.MotorResult) -> None:
    curve = result.bl_curve
    short = dataclasses.replace(
        curve, **{k: getattr(curve, k)[20:] for k in ("x", "bl", "bl_coarse")}
    )
    ends = [s for share in (0.82, 0.7) for s in _ends(short.stroke(share))]
    ax = plot_bl(short, ax=blank())
    stand = [
        line[0, 0]
        for c in ax.collections[1:]
        if hasattr(c, "get_segments")
        for line in c.get_segments()
    ]
    assert sorted(stand) == pytest.approx(sorted(e for e in ends if np.isfinite(e)))


def _ends(stroke) -> list[float]:
    return [-stroke.inward.value * 1e3, stroke.outward.value * 1e3]


def test_the_arrow_names_the_best_rest_position_from_here(result: motor.MotorResult) -> None:
    place = result.best_rest_position[0].value - result.design.coil.rest_position
    ax = drawn(result).axes[0]
    assert f"best rest position {place * 1e3:+.2f} mm" in [t.get_text() for t in ax.texts]
