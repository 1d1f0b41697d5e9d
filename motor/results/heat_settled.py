"""Thermal models of a solved motor on its meshes, and where a programme settles in them."""

from __future__ import annotations

import dataclasses

import numpy as np

from motor.base.steps import step
from motor.design.design import Design
from motor.results.eddy_heat import eddy_heat
from motor.results.heat_limits import mean_of
from motor.results.heat_model import HeatModel, Settled, heat_model
from motor.results.heat_network import calibrated
from motor.results.impedance import conductivity_of
from motor.results.motor_result import MotorResult
from motor.results.spectrum import Spectrum, programme_spectrum

__all__ = ["settled_models", "thermal_model"]

ROWS = (12, 24)
"""Rows of the winding's grid on the coarse and on the fine mesh."""


def thermal_model(result: MotorResult, power: float) -> tuple[HeatModel, Settled]:
    """Return the thermal model of a solved motor on its finest mesh, and where it settles.

    Parameters
    ----------
    result : MotorResult
    power : float
        Programme power in W.
    """
    design = result.design
    travel = design.heat.displacement
    if travel is None:
        travel = result.usable_stroke.value / 4
    return settled_models(result, design, travel, power, finest=True)[0]


def settled_models(
    result: MotorResult,
    design: Design,
    displacement: float,
    power: float,
    *,
    spectrum: Spectrum | None = None,
    finest: bool = False,
) -> tuple[tuple[HeatModel, Settled], tuple[HeatModel, Settled]]:
    """Return model and settled state on the finest mesh, and on the coarsest.

    ``spectrum`` is that of the programme, for eddy currents; None for the design's.
    """
    rules = design.heat
    if spectrum is None and rules.eddy_currents == "included":
        spectrum = programme_spectrum(rules.lowest_frequency, rules.highest_frequency)
    levels = [result.field.coarse, result.field.fine]
    if finest or levels[0] is levels[1]:
        del levels[0]
    models: list[tuple[HeatModel, Settled]] = []
    asked = max(power, 1.0)
    for rows, level in zip(ROWS[-len(levels) :], levels, strict=True):
        eddy = None
        if spectrum is not None and rules.eddy_currents == "included":
            eddy = eddy_heat(result, level, spectrum, displacement)
        with step("heat in the section"):
            model = heat_model(
                design,
                level.system.mesh,
                divisions=rows,
                displacement=displacement,
                powers=(asked,),
                eddy=eddy,
            )
            model = calibrated(model, power)
            models.append(_warm(model, model.settle(power), power))
    return models[-1], models[0]


def _warm(model: HeatModel, settled: Settled, power: float) -> tuple[HeatModel, Settled]:
    """Return the model with its parts as conductive as they are once warm, and where it settles.

    A second pass would move the parts by hundredths of a kelvin.
    """
    if model.eddy is None:
        return model, settled
    design = model.design
    kelvin = {r.name: mean_of(model, settled.state, r.name) for r in design.regions}
    parts = dataclasses.replace(design.materials, temperatures=kelvin)
    warm = design.replace(materials=parts)
    factors = [
        conductivity_of(warm, r) / conductivity_of(design, r)
        for r in design.regions
        if r.name in model.eddy.parts
    ]
    model = dataclasses.replace(model, eddy=model.eddy.scaled(np.array(factors)))
    return model, model.settle(power, settled)
