"""The designs and results on either side of a solved motor, one parameter's small step apart.

The mesh is moved along with the corners and the change of the potential at its nodes follows from
one back-substitution with the tangent at hand.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries import Role
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.base.quantity import COLUMN_UNITS
from motor.design.design import Design
from motor.field.field import Field, FieldOnMesh
from motor.field.motion import Mover, NoSmoothMotionError
from motor.field.newton import Solution
from motor.field.partition import envelope
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult, read_off
from motor.study.parameters import ENDINGS, TOGETHER, Draft, parameter_named

__all__ = [
    "PRICE",
    "RINGS",
    "TURNS",
    "Change",
    "Neighbours",
    "asked",
    "checked",
    "ends",
    "fields",
    "neighbours",
    "prepared",
    "read_off_like",
]

LENGTH_STEP = 1e-5
"""Change of a dimension of the geometry in metres: outlines are held to 1e-9."""
RELATIVE_STEP = 1e-4
"""Change of anything else over its value."""
PRICE = "materials.prices."
TURNS = "coil.turns_per_layer"
"""A turn more in each layer and a winding taller by as much, of the same wire."""
RINGS = ".rings."
"""In the names of rings' dimensions, which leave a steady field as it is."""


@dataclass(frozen=True)
class Neighbours:
    """The results on either side of one, a parameter's small step apart; of its finer mesh.

    Parameters
    ----------
    low, high : MotorResult
    step : float
        From one to the other, SI.
    middle : MotorResult or None
        The motor itself, read off like them; None of what is not solved.
    """

    low: MotorResult
    high: MotorResult
    step: float
    middle: MotorResult | None = None


@dataclass(frozen=True)
class Change:
    """Two designs around one, the parameter's step between them in its unit, and what it does.

    The step in SI; it moves the mesh, changes the field, changes what is read off it, leaves rings
    out; whether both designs are changed, by half the step each.
    """

    low: Design
    high: Design
    step: float
    unit: str
    si: float
    moves: bool = False
    magnetic: bool = False
    read: bool = False
    bare: bool = False
    both: bool = False

    def designs(self, signs: Sequence[int]) -> list[Design]:
        """Return the designs at its ends, -1 the lower and 1 the upper."""
        return [self.low if sign < 0 else self.high for sign in signs]


@one_blas_thread()
def neighbours(
    result: MotorResult, parameters: Sequence[str], *, second: bool = False
) -> dict[str, Neighbours]:
    """Return the results to either side of a solved motor for each parameter.

    For derivatives of anything that can be read off a result, by one field solve.

    Parameters
    ----------
    result : MotorResult
    parameters : sequence of str
        Dotted names; equal dimensions that change as one with " + " between.
    second : bool
        Whether the potentials are right to second order, for second differences.

    Raises
    ------
    InvalidInput
        If there is no such parameter, or no derivative by it, with the reason.
    """
    levels, mover = prepared(result, fine_only=True)
    middle, found = read_off_like(result, levels[0]), {}
    for name in checked(result.design, parameters):
        try:
            change, shift = asked(result, name, mover)
        except (InvalidInput, NoSmoothMotionError) as reason:
            raise InvalidInput(name, "change the motor smoothly", reason) from None
        low, high = ends(result, levels[0], change, shift, second=second)
        found[name] = Neighbours(low, high, change.si, middle)
    return found


def read_off_like(result: MotorResult, level: FieldOnMesh) -> MotorResult:
    """Return a motor read off one mesh, sampled as its neighbours are."""
    alone = Field(result.field.regions, level, level, result.field.goal)
    return read_off(result.design, alone, result)


def prepared(result: MotorResult, *, fine_only: bool = False) -> tuple[list[FieldOnMesh], Mover]:
    """Return the levels to differentiate on, their tangents set, and what moves their nodes."""
    field = result.field
    alone = fine_only or field.fine is field.coarse
    levels = [field.fine] if alone else [field.fine, field.coarse]
    for level in levels:
        level.solver.set_tangent(level.solution.reduced)
    return levels, Mover(field.coarse.system.mesh, result.design.regions)


def checked(design: Design, names: Sequence[str]) -> Sequence[str]:
    """Return names of parameters as they are; InvalidInput if there is no such parameter."""
    for name in names:
        for one in name.split(TOGETHER):
            if not one.startswith(PRICE) and one != TURNS:
                parameter_named(design, one)
    return names


def asked(result: MotorResult, name: str, mover: Mover) -> tuple[Change, Floats | None]:
    """Return the designs to either side by one parameter, and how the nodes follow."""
    losing = ("temperature", "factors.coercivity")
    if name in losing and result.field.before_loss is not None:
        raise InvalidInput(name, "leave what magnets have lost as it is", "a loss for good")
    change = _change(result.design, name)
    shift = mover.shifts(change.low.regions, change.high.regions) if change.moves else None
    return change, shift


def _change(design: Design, name: str) -> Change:
    """Return the designs to either side, with the same turns; InvalidInput if there are none.

    Where a ring is in the way of a dimension it is left out: it carries none of this field.
    """
    if name.startswith(PRICE):
        return _price(design, name.removeprefix(PRICE))
    if name == TURNS:
        shorter = design.coil.winding_height - design.coil.wire.pitch
        fewer = design.replace(coil=dataclasses.replace(design.coil, winding_height=shorter))
        return Change(fewer, design, 1.0, "turn", 1.0, read=True)
    names = name.split(TOGETHER)
    kind, value = parameter_named(design, names[0]).kind, Draft(design).get(names[0])
    drawn = name.startswith("geometry.")
    moves = any(one.startswith("geometry.") and RINGS not in one for one in names)
    size = abs(value) if value and name != "coil.rest_position" else 1e-2
    step = LENGTH_STEP if drawn else RELATIVE_STEP * size
    bare = False
    try:
        sides = [Draft(design, dict.fromkeys(names, value + s * step)).design() for s in (-1, 1)]
    except InvalidInput:
        without = _without_rings(design)
        if without is None or any(RINGS in one for one in names):
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
    return Change(
        sides[0],
        sides[1],
        column.of_si(ends[1] - ends[0]),
        unit,
        ends[1] - ends[0],
        moves=moves,
        magnetic=magnetic,
        read=magnetic or name.startswith("coil."),
        bare=bare,
        both=not bare and ends[0] == -ends[1],
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


def _price(design: Design, material: str) -> Change:
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
    return Change(sides[0], sides[1], price, "price per kg", price)


def ends(
    result: MotorResult,
    level: FieldOnMesh,
    change: Change,
    shift: Floats | None,
    *,
    second: bool = False,
    signs: Sequence[int] = (-1, 1),
) -> list[MotorResult]:
    """Return the results on one mesh at the ends of a change, -1 the lower and 1 the upper.

    ``second`` for potentials to second order, by one more back-substitution each.
    """
    designs = change.designs(signs)
    if not change.read:
        own = Field(result.field.regions, level, level, result.field.goal)
        return [dataclasses.replace(result, design=d, field=own) for d in designs]
    found = fields(result, level, change, shift, second=second, signs=signs)
    return [
        read_off(d, Field(d.regions, at, at, result.field.goal), result)
        for d, at in zip(designs, found, strict=True)
    ]


def fields(
    result: MotorResult,
    level: FieldOnMesh,
    change: Change,
    shift: Floats | None,
    *,
    second: bool = False,
    signs: Sequence[int] = (-1, 1),
) -> list[FieldOnMesh]:
    """Return the fields alone on one mesh at the ends of a change; see :func:`ends`."""
    if not change.magnetic:
        return [level] * len(signs)
    designs = change.designs(signs)
    mesh = level.system.mesh
    if shift is None:
        shift = np.zeros_like(mesh.mesh.p)
    elif level is result.field.fine and level is not result.field.coarse:
        shift = mesh.carried(shift)
    start, solver = level.solution.reduced, level.solver
    systems = [
        level.system.moved(
            mesh.moved(sign * shift / 2, d.regions, d.geometry.gap), *field_materials(d)
        )
        for sign, d in zip(signs, designs, strict=True)
    ]
    misses = [system.residual(start) for system in systems]
    if len(misses) == 2:
        half = -solver.solve_tangent(misses[1] - misses[0]) / 2
        potentials = [start - half, start + half]
    else:
        potentials = [start - solver.solve_tangent(misses[0] - level.once(_left))]
    if second:
        potentials = [
            at - solver.solve_tangent(system.residual(at) - level.once(_left))
            for at, system in zip(potentials, systems, strict=True)
        ]
    return [
        FieldOnMesh(system, solver, Solution(at, level.solution.residuals))
        for at, system in zip(potentials, systems, strict=True)
    ]


def _left(level: FieldOnMesh) -> Floats:
    """Return what Newton's method has left of the residual."""
    return level.system.residual(level.solution.reduced)
