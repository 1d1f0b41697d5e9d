"""Demagnetisation: margin to the knee, and what a trip to another temperature costs for good.

A magnet's triangles each carry the share of their remanence that is left.  At the other
temperature the share follows from the flux density that the solved field has there: where the
second-quadrant curve meets it beyond the knee, the recoil line is lowered to pass through that
point.  Field and shares are solved in turn until the shares stand still.  Back at 20 degC the
shares are kept (the loss is irreversible) and Bl is computed again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, SolveError
from motor.field.field import Field, Level
from motor.field.fixed_point import fixed_point
from motor.materials import MU0, REFERENCE_TEMPERATURE, DemagnetisationCurve
from motor.results.bl import BlCurve
from motor.results.loaded import coil_load

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = [
    "Conditions",
    "Excursion",
    "MagnetHealth",
    "excursion",
    "settle",
]

Shares = dict[str, Floats]
"""Share of the remanence left in each triangle of each magnet region."""

WORST_SHARE = 1e-3
"""The worst field is what is exceeded in this share of the magnet's volume: the field at a sharp
edge against steel is singular, and a plain maximum would only tell how fine the mesh is."""
CHANGE, FLOOR = 1.5, 0.005
"""Uncertainty of the worst field: its change between the meshes times the first, and the second
share of it.  Larger than for Bl: it is read point by point, next to the magnet's edges."""
STANDSTILL = 2e-4
MOST_ROUNDS = 80


@dataclass(frozen=True)
class MagnetHealth:
    """State of one magnet at the other temperature, A/m and metres.

    Parameters
    ----------
    region : str
    worst_field : float
        Most demagnetising field along the magnetisation (negative), but for a thousandth of
        the volume.
    worst_position : (r, z)
        Where it is.
    uncertainty : float
        Numerical uncertainty of the worst field; nan with one mesh only.
    knee_field : float
        Field at the knee (negative): one that costs 1 % of the local remanence.
    share_past_knee : float
        Share of the volume beyond the knee.
    loss : float
        Share of the magnet's remanence lost for good, volume mean.
    """

    region: str
    worst_field: float
    worst_position: tuple[float, float]
    uncertainty: float
    knee_field: float
    share_past_knee: float
    loss: float

    @property
    def margin(self) -> float:
        """Distance of the worst field from the knee in A/m; negative past it."""
        return self.worst_field - self.knee_field


@dataclass(frozen=True)
class Excursion:
    """A trip from 20 degC to another temperature and back.

    Parameters
    ----------
    temperature : float
        Kelvin.
    resistance : float
        Of the coil there, ohm.
    there : BlCurve
        Bl at that temperature.
    after : BlCurve
        Bl back at 20 degC.
    magnets : tuple of MagnetHealth
        Empty if no coercivity is known.
    notes : tuple of str
        Warnings about published ranges.
    """

    temperature: float
    resistance: float
    there: BlCurve
    after: BlCurve
    magnets: tuple[MagnetHealth, ...]
    notes: tuple[str, ...] = ()

    @property
    def margin(self) -> float:
        """Least margin of all magnets in A/m; infinite if none is known."""
        return min((m.margin for m in self.magnets), default=float("inf"))

    @property
    def margin_uncertainty(self) -> float:
        """Numerical uncertainty of the margin in A/m; nan if none is known."""
        return min(self.magnets, key=lambda m: m.margin).uncertainty if self.magnets else math.nan

    @property
    def safe(self) -> bool:
        """Whether every magnet stays short of its knee."""
        return self.margin > 0


@dataclass(frozen=True)
class Conditions:
    """What stays the same between states of one level.

    Parameters
    ----------
    level : Level
        Solved at 20 degC.
    curves : mapping of region name to DemagnetisationCurve or None
        Second quadrants at the other temperature.
    warmth : mapping of region name to float
        Remanence there over remanence at 20 degC.
    coil : (n,) array or None
        Reduced load of a coil current there.
    """

    level: Level
    curves: Mapping[str, DemagnetisationCurve | None]
    warmth: Mapping[str, float]
    coil: Floats | None


def _along(level: Level, region: str) -> tuple[Floats, Floats]:
    """Return B along the magnetisation at a magnet's quadrature points, and their volumes."""
    system = level.system
    here = system.mesh.triangles_of(region)
    direction = np.array(system.magnets[region].remanence)
    b = system.flux_density(level.potential)[here] @ (direction / np.hypot(*direction))
    return b, 2 * np.pi * system.weight[here]


def _with_shares(context: Conditions, near: Level, shares: Mapping[str, Any], warm: bool) -> Level:
    """Return the level solved with the given shares, at the other temperature if ``warm``."""
    level = context.level
    scale = {
        name: np.asarray(share) * (context.warmth[name] if warm else 1.0)
        for name, share in shares.items()
    }
    load = level.system.magnet_load(scale) - level.system.load
    if warm and context.coil is not None:
        load = load + context.coil
    solution = level.solver.solve(near.solution.reduced, extra_load=load)
    return replace(level, solution=solution)


def settle(context: Conditions) -> tuple[Level, Shares, Level]:
    """Return the level at the other temperature, the shares left, and the level back home."""
    mesh = context.level.system.mesh
    sizes = {name: len(mesh.triangles_of(name)) for name in context.curves}
    cuts = np.cumsum(list(sizes.values()))[:-1]
    level = context.level

    def by_region(every: Floats) -> Shares:
        return dict(zip(sizes, np.split(every, cuts), strict=True))

    def left(every: Floats) -> Floats:
        """Return the shares left in the field that the given shares make."""
        nonlocal level
        shares = by_region(np.clip(every, 0.0, 1.0))
        level = _with_shares(context, level, shares, warm=True)
        for name, curve in context.curves.items():
            if curve is not None:
                b, volume = _along(level, name)
                mean = (b * volume).sum(axis=1) / volume.sum(axis=1)
                shares[name] = 1.0 - curve.loss(curve.field_at(mean))
        return np.concatenate([np.empty(0), *shares.values()])

    volumes = np.concatenate([np.empty(0), *(_along(level, name)[1].sum(axis=1) for name in sizes)])
    start = np.ones(len(volumes))
    every, moved = fixed_point(left, start, weights=volumes, tolerance=STANDSTILL, most=MOST_ROUNDS)
    if moved > STANDSTILL:
        raise SolveError(
            f"the demagnetised state did not settle: remanence still moves by {moved:.1e} "
            f"after {MOST_ROUNDS} rounds"
        )
    shares = by_region(every)
    return level, shares, _with_shares(context, context.level, shares, warm=False)


def _fields(
    level: Level, region: str, curve: DemagnetisationCurve, shares: Floats
) -> tuple[Floats, Floats, int]:
    """Return the fields at a magnet's points, flat, their volumes, and the worst one's place."""
    b, volume = _along(level, region)
    field = (b - (curve.remanence * shares)[:, None]) / (MU0 * curve.recoil_permeability)
    field, size = field.ravel(), volume.ravel()
    order = np.argsort(field)
    passed = np.cumsum(size[order]) / size.sum()
    return field, size, int(order[np.searchsorted(passed, WORST_SHARE)])


def _health(
    levels: tuple[Level, Level], region: str, curve: DemagnetisationCurve, shares: list[Shares]
) -> MagnetHealth:
    """Return a magnet's state from the fine and the coarse level."""
    (field, size, worst), (before, _, worst_before) = (
        _fields(level, region, curve, left[region])
        for level, left in zip(levels, shares, strict=True)
    )
    system = levels[0].system
    here = system.mesh.triangles_of(region)
    points = np.asarray(system.basis.global_coordinates())[:, here].reshape(2, -1)
    value, change = float(field[worst]), float(abs(field[worst] - before[worst_before]))
    alone = levels[0].system is levels[1].system
    mass = size.reshape(len(here), -1).sum(axis=1)
    return MagnetHealth(
        region=region,
        worst_field=value,
        worst_position=(float(points[0, worst]), float(points[1, worst])),
        uncertainty=math.nan if alone else CHANGE * change + FLOOR * abs(value),
        knee_field=curve.knee,
        share_past_knee=float(size[field < curve.knee].sum() / size.sum()),
        loss=max(0.0, float((1.0 - shares[0][region]) @ mass / mass.sum())),
    )


def excursion(result: MotorResult, temperature: float, *, coil_current: float = 0.0) -> Excursion:
    """Take a solved motor from 20 degC to a temperature and back.

    Parameters
    ----------
    result : MotorResult
        Solved at 20 degC.
    temperature : float
        Kelvin, of magnets and coil.
    coil_current : float
        Peak current in ampere that opposes the magnets at that temperature, for instance of a
        clipping amplifier; 0 for none.  Both signs are tried at rest, the worse one is kept.

    Raises
    ------
    InvalidInput
        If the result is not at 20 degC, or the temperature is past a Curie temperature.
    SolveError
    """
    design = result.design
    if abs(design.temperature - REFERENCE_TEMPERATURE) > 1e-6:
        raise InvalidInput(
            "temperature of the design",
            "be 20 degC, where the trip starts",
            f"{design.temperature - 273.15:.4g} degC",
        )
    trips = [
        _trip(result, temperature, current)
        for current in ([coil_current, -coil_current] if coil_current else [0.0])
    ]
    return min(trips, key=lambda trip: (trip.after.at_rest.value, trip.margin))


def _trip(result: MotorResult, temperature: float, current: float) -> Excursion:
    from motor.results.motor_result import read_off

    design, field = result.design, result.field
    grades = {name: design.materials.magnet_of(name) for name in field.fine.system.magnets}
    curves = {name: grade.curve_at(temperature) for name, grade in grades.items()}
    warmth = {name: g.remanence_at(temperature) / g.remanence for name, g in grades.items()}
    settled = []
    for level in _levels(field):
        load = None
        if current:
            turns = design.coil.turns_in_series * current
            load = coil_load(level, design.coil, design.coil.rest_position, turns)
        settled.append(settle(Conditions(level, curves, warmth, load)))
    (fine, shares, fine_home), (coarse, coarse_shares, coarse_home) = settled[0], settled[-1]
    there = replace(field, fine=fine, coarse=coarse)
    home = replace(field, fine=fine_home, coarse=coarse_home)
    if current:
        there = _without_coil(field, shares, coarse_shares, warmth)
    health = tuple(
        _health((fine, coarse), name, curve, [shares, coarse_shares])
        for name, curve in curves.items()
        if curve is not None
    )
    notes = tuple(filter(None, (g.range_note(temperature) for g in grades.values())))
    return Excursion(
        temperature=temperature,
        resistance=design.coil.resistance(temperature),
        there=read_off(design, there).bl_curve,
        after=read_off(design, home).bl_curve,
        magnets=health,
        notes=tuple(dict.fromkeys(notes)),
    )


def _without_coil(field: Field, fine: Shares, coarse: Shares, warmth: Mapping[str, float]) -> Field:
    """Return the field at the other temperature once the coil's current has gone."""
    levels = [
        _with_shares(Conditions(level, {}, warmth, None), level, shares, warm=True)
        for level, shares in zip(_levels(field), (fine, coarse), strict=False)
    ]
    return replace(field, fine=levels[0], coarse=levels[-1])


def _levels(field: Field) -> tuple[Level, ...]:
    """Return fine and coarse level; one where the field was solved on one mesh only."""
    return (field.fine,) if field.fine is field.coarse else (field.fine, field.coarse)
