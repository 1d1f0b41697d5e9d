"""Every record that has something to show draws it: into given axes, in both themes."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

import motor
from geometries import Contour
from motor.driver.run import run_driver, system_of
from motor.driver.thermal_network import network_of
from motor.materials import magnet_named, steel_named
from motor.report.style import STYLES, THEMES, blank, theme
from motor.results.temperature_sweep import temperature_sweep
from motor.study.problem import Answer, Trial
from motor.study.reshaped import Reshaped
from motor.study.study_table import StudyTable
from motor.study.target import Requirement
from motor.study.tolerance import Scatter

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"
REQUIREMENTS = (
    Requirement("Bl at rest", 6.0, 6.3, "T m", True, 6.0),
    Requirement("mass", 0.8, 1.0, "kg", False, 0.8),
)


@pytest.fixture(scope="module")
def records() -> dict[str, Any]:
    """Return one record of each kind."""
    result = motor.solve(motor.read_design(DESIGN))
    system = system_of(result)
    driver = system.driver
    stroke = dataclasses.replace(result.design.stroke, band=3e-3)
    banded = dataclasses.replace(result, design=result.design.replace(stroke=stroke))
    state, _ = motor.steady_state(system, 60.0, 8.0)
    wave = 8 * np.sin(2 * np.pi * 60 * np.arange(400) / 8000)
    measured = motor.Table(tuple(np.linspace(-5e-3, 5e-3, 9)), (5.5,) * 9)
    return {
        "result": result,
        "field": result.field,
        "bl_curve": result.bl_curve,
        "gap_profile": result.gap_profile,
        "flux_budget": result.flux_budget,
        "steel": steel_named("low-carbon-a"),
        "magnet": magnet_named("N42"),
        "response": motor.response(system, np.geomspace(20, 200, 9)),
        "map": motor.distortion_map(system, [40.0, 80.0], [1.0, 4.0]),
        "clean": motor.clean_limits(system, [40.0, 80.0]),
        "measured": motor.compare_bl(measured, driver.bl),
        "steady": state,
        "motion": motor.play(system, wave, 8000),
        "heating": network_of(result).warm_up(8.0, np.linspace(0, 3600, 20)),
        "answer": Answer(False, Trial({}, None, None, REQUIREMENTS, 1.0), (), 1),
        "scatter": Scatter("bl_at_rest_Tm", 6.0, 0.1, 5.8, 6.2, {"a.b": 0.7, "a.c": 0.3}),
        "table": StudyTable.of_records([{"a": x, "b": x * x} for x in (1.0, 2.0, 3.0)]),
        "sweep": temperature_sweep(result.design, [253.15, 293.15]),
        "run": run_driver(system, 4.0),
        "reshaped": Reshaped((Contour("yoke", (6,), 1e-3),), banded, banded),
    }


SINGLE = [
    "result",
    "field",
    "bl_curve",
    "gap_profile",
    "flux_budget",
    "steel",
    "magnet",
    "response",
    "map",
    "clean",
    "measured",
    "steady",
    "motion",
    "heating",
    "answer",
    "scatter",
    "table",
]


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    plt.close("all")
    yield
    plt.close("all")


def plot_of(records: dict[str, Any], name: str) -> Callable[..., Any]:
    if name == "table":
        return lambda ax=None: records["table"].plot("a", "b", ax)
    return records[name].plot  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", SINGLE)
def test_plot_draws_into_given_axes_and_returns_them(records: dict[str, Any], name: str) -> None:
    ax = blank()
    assert plot_of(records, name)(ax) is ax
    assert ax.has_data()
    assert ax.get_xlabel()
    assert plt.get_fignums() == []


@pytest.mark.parametrize("name", SINGLE)
def test_plot_without_axes_makes_a_figure_that_a_script_can_show(
    records: dict[str, Any], name: str
) -> None:
    ax = plot_of(records, name)()
    assert isinstance(ax, Axes)
    assert plt.get_fignums() == [ax.figure.number]  # type: ignore[union-attr]


@pytest.mark.parametrize(("name", "panels"), [("sweep", 4), ("run", 4), ("reshaped", 2)])
def test_pages_are_figures(records: dict[str, Any], name: str, panels: int) -> None:
    figure = records[name].plot()
    assert isinstance(figure, Figure)
    assert len({ax.get_subplotspec().num1 for ax in figure.axes}) == panels
    assert all(ax.has_data() and ax.get_ylabel() for ax in figure.axes)


def colours(figure: Any) -> set[tuple[float, float, float]]:
    """Return every colour of the drawn pixels, to 1/255."""
    figure.set_dpi(40)
    figure.canvas.draw()
    pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3].reshape(-1, 3)
    return {tuple(p) for p in np.unique(pixels, axis=0).tolist()}


@pytest.mark.parametrize("name", [*SINGLE, "sweep", "run"])
def test_print_has_no_colour_at_all(records: dict[str, Any], name: str) -> None:
    with theme("print"):
        drawn = plot_of(records, name)()
    figure = drawn if isinstance(drawn, Figure) else drawn.figure
    if not hasattr(figure.canvas, "buffer_rgba"):
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        FigureCanvasAgg(figure)
    assert all(max(c) - min(c) <= 1 for c in colours(figure))


@pytest.mark.parametrize("name", THEMES)
def test_the_main_curve_has_the_themes_ink(records: dict[str, Any], name: str) -> None:
    with theme(name):
        ax = records["bl_curve"].plot(blank())
    assert to_rgb(ax.get_lines()[0].get_color()) == to_rgb(STYLES[name].ink)
