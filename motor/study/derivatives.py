"""What a small change of each dimension, material or price does to each figure of a motor.

The mesh is moved along with the corners, the change of the potential at its nodes follows from one
back-substitution with the tangent at hand, and the figures are read off the two moved motors by
the functions that read off any other.  The second mesh says how far to believe it.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries import Role
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.base.program import origin
from motor.base.quantity import COLUMN_UNITS, unit_at_end
from motor.design.design import Design
from motor.field.field import Field, Level
from motor.field.motion import Mover, NoSmoothMotionError
from motor.field.newton import Solution, Solver
from motor.field.partition import envelope
from motor.results.motor_result import MotorResult, field_materials, read_off
from motor.results.quantities import motor_quantities
from motor.study.parameters import ENDINGS, Draft, known_parameters, parameter_named

__all__ = ["Derivative", "Derivatives", "derivatives"]

LENGTH_STEP = 1e-5
"""Change of a dimension of the geometry in metres: outlines are held to 1e-9."""
RELATIVE_STEP = 1e-4
"""Change of anything else over its value."""
CHANGE, SCATTER = 1.5, 5.0
"""The uncertainty is CHANGE |fine - coarse| + SCATTER s |fine| with the error model's scatter s;
set on random motors, see tests/verification/coverage_derivatives.py."""
PRICE = "materials.prices."
TOGETHER = " + "
"""Between the names of equal dimensions that are changed as one."""


Figures = dict[str, Callable[[MotorResult], float | None]]


def sloped(kind: str = "") -> Figures:
    """Return how each figure with derivatives is read, in the unit of its key.

    ``kind`` is "field" for those read off the field, "parts" for those that follow from the
    drawing alone, "" for both.
    """
    quantities = (q for q in motor_quantities() if q.slope and q.slope.startswith(kind))
    return {q.key: q.differentiable for q in quantities}


@dataclass(frozen=True)
class Derivative:
    """One figure's derivative by one parameter.

    Parameters
    ----------
    figure : str
        Key of ``summary.json``.
    parameter : str
        Dotted name as in studies, or ``materials.prices.`` and a material's name.  Equal
        dimensions that cannot change alone change as one, their names with " + " between.
    derivative : float
        In the figure's unit per the parameter's (mm, K, g ...; 1 for factors), turns kept.
    uncertainty : float
        Numerical, absolute; nan without a second mesh.
    unit : str
    """

    figure: str
    parameter: str
    derivative: float
    uncertainty: float
    unit: str


@dataclass(frozen=True)
class Derivatives:
    """All derivatives of one motor.

    Parameters
    ----------
    name : str
        The design's.
    rows : tuple of Derivative
        Where figure and derivative are finite.
    refused : mapping of parameter to str
        Why there is no derivative: parts would come apart, or the change is possible one way only.
    x : (n,) array
        Displacements of the Bl curve, metres.
    bl : mapping of parameter to (2, n) array
        Derivative of Bl(x) in T m per the parameter's unit, and its uncertainty.
    """

    name: str
    rows: tuple[Derivative, ...]
    refused: Mapping[str, str]
    x: Floats
    bl: Mapping[str, Floats]

    def of(self, figure: str, parameter: str) -> Derivative:
        """Return one derivative; KeyError if there is none."""
        for row in self.rows:
            if row.figure == figure and row.parameter == parameter:
                return row
        raise KeyError((figure, parameter))

    def summary(self) -> dict[str, Any]:
        """Return the record that ``motor derivatives --json`` prints."""
        rows = [dataclasses.asdict(row) for row in self.rows]
        for row in rows:
            row["uncertainty"] = None if math.isnan(row["uncertainty"]) else row["uncertainty"]
        return {**origin(), "name": self.name, "rows": rows, "refused": dict(self.refused)}


@dataclass(frozen=True)
class _Change:
    """Two designs around one, the parameter's step between them in its unit, and what it does.

    It moves the mesh, changes the field, changes what is read off it, leaves rings out.
    """

    low: Design
    high: Design
    step: float
    unit: str
    moves: bool = False
    magnetic: bool = False
    read: bool = False
    bare: bool = False


@one_blas_thread()
def derivatives(result: MotorResult, parameters: Sequence[str] | None = None) -> Derivatives:
    """Return what each parameter does to each figure of a solved motor.

    What magnets have lost for good is held.

    Parameters
    ----------
    result : MotorResult
    parameters : sequence of str or None
        Dotted names; None for every dimension, material factor, temperature and price.

    Raises
    ------
    InvalidInput
        If there is no such parameter.
    """
    design, field = result.design, result.field
    levels = [field.fine] if field.fine is field.coarse else [field.fine, field.coarse]
    for level in levels:
        level.solver.set_tangent(level.solution.reduced)
    mover = Mover(field.coarse.system.mesh, design.regions)
    scatter = field.errors.scatter
    rows: list[Derivative] = []
    refused: dict[str, str] = {}
    bl: dict[str, Floats] = {}
    for name in parameters or ():
        if not name.startswith(PRICE):
            for one in name.split(TOGETHER):
                parameter_named(design, one)
    for name in parameters or itertools.chain(_names(design), _together(design, refused)):
        try:
            if name == "temperature" and field.held is not None:
                raise InvalidInput(name, "leave what magnets have lost as it is", "a loss for good")
            change = _change(design, name)
            shift = mover.shifts(change.low.regions, change.high.regions) if change.moves else None
            slopes, curves = zip(
                *(_slopes(result, level, change, shift) for level in levels), strict=True
            )
        except (InvalidInput, NoSmoothMotionError) as reason:
            refused[name] = str(reason)
            continue
        for figure, fine in slopes[0].items():
            doubt = CHANGE * abs(fine - slopes[-1][figure]) + SCATTER * scatter * abs(fine)
            rows.append(Derivative(figure, name, fine, doubt, _unit(figure, change)))
        spread = CHANGE * np.abs(curves[0] - curves[-1]) + SCATTER * scatter * np.abs(curves[0])
        bl[name] = np.array([curves[0], spread])
        for figure, slope in _plain_slopes(result, change).items():
            rows.append(Derivative(figure, name, slope, 0.0, _unit(figure, change)))
        if change.bare:
            decided = {q.key for q in motor_quantities() if q.rings_decide}
            rows = [r for r in rows if r.parameter != name or r.figure not in decided]
    finite = tuple(row for row in rows if math.isfinite(row.derivative))
    return Derivatives(design.name, finite, refused, result.bl_curve.x, bl)


def _names(design: Design) -> Iterator[str]:
    """Yield every parameter that is a number other than a count, and that the design has."""
    draft = Draft(design)
    for name, parameter in known_parameters(design).items():
        if parameter.kind in ("count", "text") or name == "factors.stiffness":
            continue
        if name.startswith("geometry.") and (parameter.kind != "length" or ".rings." in name):
            continue  # rings carry none of this field; angles and numbers move no corner by a step
        value = draft.get(name)
        if (isinstance(value, int | float) and value != 0) or name == "coil.rest_position":
            yield name
    materials = design.materials
    yield from sorted({PRICE + materials.material_of(r).name for r in design.regions})


def _together(design: Design, refused: Mapping[str, str]) -> Iterator[str]:
    """Yield those dimensions of the geometry that are equal and were refused one by one.

    Of a plain plate gap depth and thickness are one dimension, of flush parts both diameters.
    """
    equal: dict[float, list[str]] = {}
    for name in list(refused):
        if name.startswith("geometry."):
            equal.setdefault(round(Draft(design).get(name), 9), []).append(name)
    yield from (TOGETHER.join(names) for names in equal.values() if len(names) > 1)


def _change(design: Design, name: str) -> _Change:
    """Return the designs to either side, with the same turns; InvalidInput if there are none.

    Where a ring is in the way of a dimension it is left out: it carries none of this field.
    """
    if name.startswith(PRICE):
        return _price(design, name.removeprefix(PRICE))
    names = name.split(TOGETHER)
    kind, value = parameter_named(design, names[0]).kind, Draft(design).get(names[0])
    moves = name.startswith("geometry.")
    step = LENGTH_STEP if moves else RELATIVE_STEP * (abs(value) or 1e-2)
    bare = False
    try:
        sides = [Draft(design, dict.fromkeys(names, value + s * step)).design() for s in (-1, 1)]
    except InvalidInput:
        without = _without_rings(design)
        if without is None:
            raise
        sides = [Draft(without, dict.fromkeys(names, value + s * step)).design() for s in (-1, 1)]
        bare = True
    ends = [-step, step]
    for k, side in enumerate(sides):
        if side.coil.turns != design.coil.turns:
            sides[k], ends[k] = design, 0.0
    if ends[0] == ends[1]:
        raise InvalidInput(name, "leave the number of turns as it is", "a jump to either side")
    column = COLUMN_UNITS[ENDINGS.get(kind, "")]
    unit = "K" if kind == "temperature" else column.words or "1"
    magnetic = moves or name == "temperature" or name.startswith("factors.")
    return _Change(
        sides[0],
        sides[1],
        column.of_si(ends[1] - ends[0]),
        unit,
        moves=moves,
        magnetic=magnetic,
        read=magnetic or name.startswith("coil."),
        bare=bare,
    )


def _without_rings(design: Design) -> Design | None:
    """Return the design without its rings; None if it has none or they reach beyond the rest."""
    rings = {r.name for r in design.regions if r.role is Role.CONDUCTOR}
    rest = [r for r in design.regions if r.name not in rings]
    if not rings or envelope(rest) != envelope(design.regions):
        return None
    materials = design.materials
    parts = {name: part for name, part in materials.parts.items() if name not in rings}
    return design.replace(
        geometry=dataclasses.replace(design.geometry, rings=()),  # type: ignore[call-arg]
        materials=dataclasses.replace(materials, parts=parts),
    )


def _price(design: Design, material: str) -> _Change:
    """Return designs around one that differ in one material's price."""
    materials = design.materials
    record = next(
        (m for r in design.regions if (m := materials.material_of(r)).name == material), None
    )
    if record is None:
        raise InvalidInput("parameter", "be the price of one of the design's materials", material)
    price = materials.price_of(record)
    sides = [
        design.replace(
            materials=dataclasses.replace(
                materials, prices={**materials.prices, material: price * share}
            )
        )
        for share in (0.5, 1.5)
    ]
    return _Change(sides[0], sides[1], price, "price per kg")


def _slopes(
    result: MotorResult, level: Level, change: _Change, shift: Floats | None
) -> tuple[dict[str, float], Floats]:
    """Return the derivatives of what is read off the field, and of Bl(x), on one mesh."""
    if not change.read:
        return dict.fromkeys(sloped("field"), 0.0), np.zeros_like(result.bl_curve.x)
    found = [level, level]
    if change.magnetic:
        found = _moved(result.field, level, change, shift)
    low, high = (
        read_off(d, Field(d.regions, at, at, result.field.goal), result)
        for d, at in zip((change.low, change.high), found, strict=True)
    )
    curve = (high.bl_curve.bl - low.bl_curve.bl) / change.step
    return _differences(sloped("field"), low, high, change.step), curve


def _plain_slopes(result: MotorResult, change: _Change) -> dict[str, float]:
    """Return the derivatives of what follows from the drawing."""
    low, high = (dataclasses.replace(result, design=d) for d in (change.low, change.high))
    return _differences(sloped("parts"), low, high, change.step)


def _differences(
    figures: Figures, low: MotorResult, high: MotorResult, step: float
) -> dict[str, float]:
    pairs = {key: (figure(low), figure(high)) for key, figure in figures.items()}
    return {k: (b - a) / step for k, (a, b) in pairs.items() if a is not None and b is not None}


def _moved(field: Field, level: Level, change: _Change, shift: Floats | None) -> list[Level]:
    """Return a level at either end of a change, the potential changed to first order."""
    mesh = level.system.mesh
    if shift is None:
        shift = np.zeros_like(mesh.mesh.p)
    elif level is field.fine and field.fine is not field.coarse:
        shift = mesh.carried(shift)
    start = level.solution.reduced
    systems = [
        level.system.moved(
            mesh.moved(sign * shift / 2, d.regions, d.geometry.gap), *field_materials(d)
        )
        for sign, d in ((-1, change.low), (1, change.high))
    ]
    low, high = (Solver(s).residual(start) for s in systems)
    half = -level.solver.solve_tangent(high - low) / 2
    return [
        Level(system, level.solver, Solution(start + sign * half, level.solution.residuals))
        for sign, system in zip((-1, 1), systems, strict=True)
    ]


def _unit(figure: str, change: _Change) -> str:
    """Return the unit of a derivative as text."""
    end = unit_at_end(figure)
    of = COLUMN_UNITS[end].words or ("price" if figure.endswith("cost") else "1")
    return of if change.unit == "1" else f"{of}/{change.unit}"
