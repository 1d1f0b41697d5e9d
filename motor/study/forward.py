"""What a measurement would read on a solved motor, and how that changes with every unknown.

Everything is evaluated on the field itself, at the places where it was measured, so that
differences of two neighbouring fields are free of any sampling of their own.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.base.gauss import gauss
from motor.design.coil import WoundCoil
from motor.design.design import Design
from motor.field.field import Field, FieldOnMesh
from motor.results.gap import gap_flux
from motor.results.motor_result import MotorResult, read_off
from motor.results.profile import RADII, bl_per_flux
from motor.study.held_coil import permeable
from motor.study.measurements import Measurement
from motor.study.neighbours import RELATIVE_STEP, Neighbours, neighbours
from motor.study.parameters import Draft
from motor.study.unknowns import PERMEABILITY, TURNS, Unknown

__all__ = [
    "OUTSIDE",
    "around",
    "bend_of",
    "built",
    "change_of",
    "free_air",
    "numerical",
    "parts_of",
    "reading",
    "wound",
]

SHIFT = 1e-5
"""Step of a rig's zero for its derivative, metres."""


def wound(design: Design) -> Design:
    """Return a design whose coil keeps its turns; one with several windings or parts as it is."""
    coil = design.coil
    if coil.windings > 1 or coil.parts or isinstance(coil, WoundCoil):
        return design
    parts = {f.name: getattr(coil, f.name) for f in dataclasses.fields(coil)}
    return design.replace(coil=WoundCoil(**parts, wound=float(coil.turns)))


def built(base: Design, values: Mapping[str, float]) -> Design:
    """Return a design with values (SI) of unknowns; InvalidInput if it cannot be built."""
    changes = {
        one: value
        for name, value in values.items()
        for one in name.split(" + ")
        if one not in OUTSIDE
    }
    design = Draft(base, changes).design()
    for name, change in OUTSIDE.items():
        design = change(design, values.get(name, 1.0))
    return design


def _rewound(design: Design, factor: float) -> Design:
    coil = design.coil
    if factor == 1.0:
        return design
    assert isinstance(coil, WoundCoil)
    if not factor > 0:
        raise InvalidInput(TURNS, "be greater than 0", factor)
    return design.replace(coil=dataclasses.replace(coil, wound=coil.wound * factor))


OUTSIDE: dict[str, Callable[[Design, float], Design]] = {
    TURNS: _rewound,
    PERMEABILITY: permeable,
}
"""Unknowns that no parameter of a study is, and how a factor of each changes a design."""


def around(
    result: MotorResult,
    unknowns: Sequence[Unknown],
    values: Mapping[str, float],
    *,
    second: bool = False,
) -> dict[str, Neighbours]:
    """Return the results to either side of a motor for each unknown, whose values are given.

    Steps of factors are of the factor itself, which the motor already contains.  ``second`` is for
    second differences.

    Raises
    ------
    InvalidInput
        If there is no derivative by an unknown, with the reason.
    """
    found = neighbours(result, [u.name for u in unknowns if u.name not in OUTSIDE], second=second)
    own = _on(result, result.field.fine)
    for name in [u.name for u in unknowns if u.name in OUTSIDE]:
        sides = (OUTSIDE[name](result.design, 1 + s * RELATIVE_STEP) for s in (-1, 1))
        low, high = (read_off(side, own.field, result) for side in sides)
        found[name] = Neighbours(low, high, 2 * RELATIVE_STEP)
    return {
        name: dataclasses.replace(side, step=side.step * values[name])
        if name.startswith("factors.")
        else side
        for name, side in found.items()
    }


def bend_of(side: Neighbours, middle: MotorResult, read: Callable[[MotorResult], Any]) -> Any:
    """Return the second derivative of what is read off a result, per SI unit twice."""
    return (read(side.high) - 2 * read(middle) + read(side.low)) / (side.step / 2) ** 2


def change_of(side: Neighbours, read: Callable[[MotorResult], Any]) -> Any:
    """Return the derivative of what is read off a result, per SI unit of the unknown."""
    return (read(side.high) - read(side.low)) / side.step


def _on(result: MotorResult, level: FieldOnMesh) -> MotorResult:
    """Return a result on one of its meshes only."""
    field = Field(result.field.regions, level, level, result.field.goal)
    return dataclasses.replace(result, field=field)


def numerical(result: MotorResult, measurement: Measurement) -> Floats:
    """Return the standard deviation (n,) of a reading by mesh and boundary, SI.

    Of an impedance that of the motion alone, by Bl: the held coil's comes with it.  Single values
    follow from dimensions and have none.
    """
    if measurement.kind == "impedance":
        rest = dataclasses.replace(measurement, kind="bl", along={"x": np.zeros(1)})
        share = float(numerical(result, rest)[0] / reading(result, rest)[0])
        moved = 2 * share * _motion(result, measurement)
        return parts_of(measurement, free_air(result, measurement), moved[:, None])[:, 0]
    fine = reading(result, measurement)
    if result.field.fine is result.field.coarse or not measurement.along:
        return np.zeros_like(fine)
    coarse = reading(_on(result, result.field.coarse), measurement)
    return result.field.errors.bounds(fine, coarse, float(np.abs(fine).max())) / 2


def reading(result: MotorResult, measurement: Measurement, shift: float = 0.0) -> Floats:
    """Return what a measurement would read, (n,) in SI, by an exact gain.

    Parameters
    ----------
    result : MotorResult
    measurement : Measurement
    shift : float
        How far the rig's zero is off, metres: it writes x where the coil is at x + shift.
    """
    return READINGS[measurement.kind](result, measurement, measurement.shifted(shift))


def free_air(result: MotorResult, taken: Measurement) -> Complexes:
    """Return the impedance in free air at small signals, (n,) in ohm: held coil, and motion."""
    assert taken.held is not None
    return np.asarray(result.resistance + taken.held + _motion(result, taken))


def _motion(result: MotorResult, taken: Measurement) -> Complexes:
    """Return what the coil's motion adds to the impedance (Small 1972), (n,) in ohm."""
    design, parts = result.design, result.design.moving_parts
    assert parts is not None
    assert parts.mechanical_resistance is not None
    omega = 2 * np.pi * taken.along["frequency"]
    mass = parts.moving_mass(design.coil)
    rest = float(_bl(result, taken, {"x": np.zeros(1)})[0])
    losses = parts.mechanical_resistance + 1j * (omega * mass - parts.stiffness_at_rest / omega)
    return np.asarray(rest**2 / losses)


def _impedance(result: MotorResult, taken: Measurement, _: Mapping[str, Floats]) -> Floats:
    return parts_of(taken, free_air(result, taken))


def parts_of(taken: Measurement, z: Complexes, change: Complexes | None = None) -> Floats:
    """Return what is read of impedances z (n,) in ohm, or how it changes with z, (n, k)."""
    part = taken.along["part"]
    if change is None:
        return np.where(part == 0, z.real, np.where(part == 1, z.imag, np.abs(z)))
    part, z = part[:, None], z[:, None]
    along = (change * np.conj(z)).real / np.abs(z)
    return np.where(part == 0, change.real, np.where(part == 1, change.imag, along))


def _bl(result: MotorResult, _: Measurement, along: Mapping[str, Floats]) -> Floats:
    """Return Bl(x) of uniform windings, from the flux function at their ends."""
    coil, level = result.design.coil, result.field.fine
    points, weights = gauss(RADII)
    x = np.append(along["x"], 0.0)
    bl = np.zeros_like(x)
    for one, turns in zip(coil.each, coil.ampere_turns, strict=True):
        radii = one.mean_radius + one.build_up / 2 * points
        ends = one.winding_height / 2 * np.array([[-1.0], [1.0]])
        psi = level.flux_function(radii, (one.rest_position + x)[:, None, None] + ends)
        low, high = (psi @ weights / 2).T
        bl += bl_per_flux(turns, one.winding_height) * (low - high)
    return np.asarray(bl[:-1] * (1.0 if bl[-1] >= 0 else -1.0))


def _force(result: MotorResult, taken: Measurement, along: Mapping[str, Floats]) -> Floats:
    return taken.settings["current"] * _bl(result, taken, along)


def _gap_scan(result: MotorResult, taken: Measurement, along: Mapping[str, Floats]) -> Floats:
    """Return B_r averaged over a probe's height: the fall of the flux function over it."""
    level, gap = result.field.fine, result.design.geometry.gap
    radius, height = taken.settings["radius"], taken.settings["probe_height"]
    ends = along["z"][:, None] + height * np.array([-0.5, 0.5])
    psi = level.flux_function(radius, ends)
    sign = 1.0 if gap_flux(level, gap, radius) >= 0 else -1.0
    return np.asarray(sign * (psi[:, 0] - psi[:, 1]) / (radius * height))


def _flux(result: MotorResult, taken: Measurement, along: Mapping[str, Floats]) -> Floats:
    """Return the flux linkage of a search coil, positive if it is so in the middle of the gap."""
    level, radius = result.field.fine, taken.settings["radius"]
    psi = level.flux_function(radius, np.append(along["z"], 0.0))
    sign = 1.0 if psi[-1] >= 0 else -1.0
    return np.asarray(sign * 2 * math.pi * taken.settings["turns"] * psi[:-1])


def _resistance(result: MotorResult, taken: Measurement, _: Mapping[str, Floats]) -> Floats:
    kelvin = taken.settings["temperature"]
    kelvin = result.design.temperature if math.isnan(kelvin) else kelvin
    return np.array([result.design.coil.resistance(kelvin)])


def _resonance(result: MotorResult, _: Measurement, __: Mapping[str, Floats]) -> Floats:
    return np.array([result.resonance], float)


def _mass(result: MotorResult, taken: Measurement, _: Mapping[str, Floats]) -> Floats:
    if taken.of == "moving":
        return np.array([result.moving_mass], float)
    if taken.of == "coil":
        return np.array([result.design.coil.mass_with_enamel])
    return np.array([result.mass_of() if taken.of == "motor" else result.masses[taken.of]])


def _dimension(result: MotorResult, taken: Measurement, _: Mapping[str, Floats]) -> Floats:
    return np.array([Draft(result.design).get(taken.of.split(" + ")[0])], float)


READINGS: dict[str, Callable[[MotorResult, Measurement, Mapping[str, Floats]], Floats]] = {
    "bl": _bl,
    "force": _force,
    "gap_scan": _gap_scan,
    "flux": _flux,
    "impedance": _impedance,
    "resistance": _resistance,
    "resonance": _resonance,
    "mass": _mass,
    "dimension": _dimension,
}
"""How each kind of measurement is read off a result."""
