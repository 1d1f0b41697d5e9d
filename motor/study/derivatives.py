"""What a small change of each dimension, material or price does to each figure of a motor.

The mesh is moved along with the corners, the change of the potential at its nodes follows from one
back-substitution with the tangent at hand, and the figures are read off the two moved motors by
the functions that read off any other.  The second mesh says how far to believe it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.field.motion import NoSmoothMotionError
from motor.results.motor_result import MotorResult
from motor.study.differencing import differentiated, middles_of
from motor.study.inductance_slopes import SmallFields
from motor.study.neighbours import PRICE, TURNS, asked, checked, prepared
from motor.study.parameters import TOGETHER, Draft, known_parameters
from motor.study.slope_records import Derivative, Derivatives, Kink

__all__ = ["Derivative", "Derivatives", "Kink", "derivatives", "every_parameter", "together"]


@one_blas_thread()
def derivatives(
    result: MotorResult,
    parameters: Sequence[str] | None = None,
    *,
    inductance: Sequence[float] = (),
) -> Derivatives:
    """Return what each parameter does to each figure of a solved motor.

    What magnets have lost for good is held.

    Parameters
    ----------
    result : MotorResult
    parameters : sequence of str or None
        Dotted names; None for every dimension, material factor, temperature and price.
    inductance : sequence of float
        Hertz at which L(x) and eddy resistance are differentiated too; none without.

    Raises
    ------
    InvalidInput
        If there is no such parameter, or no impedance at such a frequency or of such a coil.
    SolveError
    """
    design = result.design
    levels, mover = prepared(result)
    middles = middles_of(result, levels)
    rows: list[Derivative] = []
    kinks: list[Kink] = []
    refused: dict[str, str] = {}
    bl: dict[str, Floats] = {}
    gap: dict[str, Floats] = {}
    checked(design, parameters or ())
    small = SmallFields(result, levels, inductance) if inductance else None
    held: dict[str, tuple[Floats, Floats]] = {}
    apart: dict[str, str] = {}
    for name in parameters or itertools.chain(
        every_parameter(design), together(design, refused, apart)
    ):
        try:
            change, shift = asked(result, name, mover)
            one = differentiated(result, levels, middles, name, change, shift)
        except (InvalidInput, NoSmoothMotionError) as reason:
            refused[name] = str(reason)
            continue
        kinked = {kink.figure for kink in one.kinks}
        rows += [row for row in one.rows if row.figure not in kinked]
        kinks += one.kinks
        bl[name], gap[name] = one.bl, one.gap
        if small is not None:
            try:
                held[name] = small.slopes(change, shift)
            except NoSmoothMotionError as reason:
                apart[name] = str(reason)
    x, z = result.bl_curve.x, result.gap_profile.z
    blocked = None if small is None else small.found(held, apart)
    return Derivatives(design.name, tuple(rows), refused, x, bl, tuple(kinks), z, gap, blocked)


def every_parameter(design: Design) -> Iterator[str]:
    """Yield every parameter that is a number other than a count and that the design has."""
    draft = Draft(design)
    for name, parameter in known_parameters(design).items():
        if parameter.kind in ("count", "text") or name == "factors.stiffness":
            continue
        if name.startswith("heat."):
            continue  # no figure of the motor by itself follows from how it is cooled
        if name.startswith("geometry.") and parameter.kind != "length":
            continue  # angles and numbers move no corner by a step
        value = draft.get(name)
        if (isinstance(value, int | float) and value != 0) or name == "coil.rest_position":
            yield name
    yield TURNS
    materials = design.materials
    yield from sorted({PRICE + materials.material_of(r).name for r in design.regions})


def together(
    design: Design, refused: Mapping[str, str], apart: Mapping[str, str] | None = None
) -> Iterator[str]:
    """Yield those dimensions of the geometry that are equal and were refused one by one.

    Of a plain plate gap depth and thickness are one dimension, of flush parts both diameters, of
    a pole and its sleeve the pole's and the sleeve's inner one, which come ``apart`` alone.
    """
    equal: dict[float, list[str]] = {}
    for name in [*(apart or ()), *refused]:
        if name.startswith("geometry."):
            equal.setdefault(round(Draft(design).get(name), 9), []).append(name)
    yield from (TOGETHER.join(names) for names in equal.values() if len(names) > 1)
