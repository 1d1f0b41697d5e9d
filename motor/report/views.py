"""Which function shows which record: everything that is drawn, told or put on a page by itself.

To give a record a picture, let its class inherit from :class:`motor.base.drawable.Drawable` (or
``DrawablePage`` for several panels) and add a line to ``DRAWINGS``.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from motor.base.drawable import Drawable, DrawablePage, Printable
from motor.driver.distortion import CleanLimits, DistortionMap
from motor.driver.measured import BlComparison
from motor.driver.run import DriverRun
from motor.driver.small_signal import Response
from motor.driver.steady import SteadyState
from motor.driver.system_comparison import Comparison
from motor.driver.thermal_network import Heating
from motor.driver.transient import Motion
from motor.field.field import Field
from motor.materials import Magnet, Steel
from motor.report.figures import (
    advice,
    assembly,
    coil_map,
    comparison,
    contour,
    curves,
    derivatives,
    driver,
    driver_panels,
    fit,
    forces,
    heat,
    impedance,
    materials,
    study,
    sweep,
)
from motor.report.figures import field as fields
from motor.report.tables.design import html_table, text_table
from motor.results.assembly import Assembly
from motor.results.bl import BlCurve
from motor.results.budget import FluxBudget
from motor.results.coil_map import CoilMap
from motor.results.forces import MotorForces
from motor.results.gap import GapProfile
from motor.results.heat import Warmth
from motor.results.heat_time import HeatHistory
from motor.results.impedance import BlockedImpedance
from motor.results.motor_result import MotorResult
from motor.results.temperature_sweep import TemperatureSweep
from motor.study.advice import Advice
from motor.study.derivatives import Derivatives
from motor.study.inferred import Fit
from motor.study.motor_comparison import MotorComparison
from motor.study.problem import Answer
from motor.study.reshaped import Reshaped
from motor.study.study_table import StudyTable
from motor.study.tolerance import Scatter

__all__ = ["drawing_of", "page_of", "table_of", "text_of"]


def _plot_response(response: Response, *, what: str = "level", **options: Any) -> Any:
    draw = driver.plot_impedance if what == "impedance" else driver.plot_response
    return draw(response, **options)


def _plot_answer(answer: Answer, **options: Any) -> Any:
    return study.plot_slack(answer.best.requirements, **options)


def _plot_scatter(scatter: Scatter, **options: Any) -> Any:
    return study.plot_shares([scatter], **options)


DRAWINGS: dict[type[Drawable | DrawablePage], Callable[..., Any]] = {
    Advice: advice.plot_advice,
    Answer: _plot_answer,
    Assembly: assembly.plot_assembly,
    BlComparison: driver.plot_measured,
    BlCurve: curves.plot_bl,
    BlockedImpedance: impedance.plot_impedance,
    CleanLimits: driver.plot_clean,
    CoilMap: coil_map.plot_coil_map,
    Comparison: driver_panels.comparison_page,
    Derivatives: derivatives.plot_derivatives,
    DistortionMap: driver.plot_map,
    DriverRun: driver_panels.run_page,
    Field: fields.plot_field,
    Fit: fit.plot_fit,
    FluxBudget: fields.plot_budget,
    GapProfile: curves.plot_gap,
    HeatHistory: heat.plot_history,
    Heating: driver.plot_heating,
    Magnet: materials.plot_magnet,
    Motion: driver.plot_motion,
    MotorComparison: comparison.plot_comparison,
    MotorForces: forces.plot_forces,
    MotorResult: fields.plot_motor,
    Reshaped: contour.plot_reshaped,
    Response: _plot_response,
    Scatter: _plot_scatter,
    SteadyState: driver.plot_spectrum,
    Steel: materials.plot_steel,
    StudyTable: study.plot_curves,
    TemperatureSweep: sweep.plot_sweep,
    Warmth: heat.plot_section,
}
"""The function that draws each kind of record."""


def drawing_of(record: Drawable | DrawablePage) -> Callable[..., Any]:
    """Return the function that draws a record, the record put in; TypeError if there is none."""
    for kind in type(record).__mro__:
        if kind in DRAWINGS:
            return functools.partial(DRAWINGS[kind], record)
    raise TypeError(f"no drawing is known for {type(record).__name__}")


def _result(record: Printable) -> MotorResult:
    if not isinstance(record, MotorResult):
        raise TypeError(f"no text is known for {type(record).__name__}")
    return record


def text_of(record: Printable) -> str:
    """Return a record as a text table."""
    return text_table(_result(record))


def table_of(record: Printable) -> str:
    """Return a record as an HTML table, for a notebook."""
    return html_table(_result(record))


def page_of(record: Printable) -> str:
    """Return a record as a page of HTML that needs nothing else."""
    from motor.report.page import page_text  # only pages need the browser's figures: start-up

    return page_text(_result(record))
