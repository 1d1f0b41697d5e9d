"""What magnets lose for good in their own field: margin to the knee, share of remanence left.

A magnet's triangles each carry the share of their remanence that is left.  It follows from the
flux density that the solved field has there: where the second-quadrant curve meets it beyond the
knee, the recoil line is lowered to pass through that point.  Where nothing worth naming is lost,
one look at the field in the magnets is all that it takes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.field.field import Field, FieldOnMesh
from motor.field.newton import Solution
from motor.materials import REFERENCE_TEMPERATURE, DemagnetisationCurve, Magnet
from motor.results.losing import Shares, lossy_potential

__all__ = ["Conditions", "Curves", "MagnetHealth", "demagnetised", "magnet_health", "settle"]

Curves = Mapping[str, DemagnetisationCurve | None]
"""Second quadrant of each magnet region; None where no coercivity is known."""

WORST_SHARE = 1e-3
"""The worst field is what is exceeded in this share of the magnet's volume: the field at a sharp
edge against steel is singular, and a plain maximum would only tell how fine the mesh is."""
CHANGE, FLOOR = 0.9, 0.024
"""Uncertainty of the worst field: its change between the meshes times the first, and the second
share of it, as squares.  Larger than for Bl: it is read point by point, next to the magnet's edges.
Set on 288 motors to hold for 95 %."""
NEGLIGIBLE = 1e-5
"""Mean loss of remanence up to which the field is not solved again: Bl is not known better."""
FLATTERY = 1.1
"""Field strengths scaled from one temperature to another are taken this much larger."""


@dataclass(frozen=True)
class MagnetHealth:
    """State of one magnet, A/m and metres.

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
class Conditions:
    """What stays the same between states of one level.

    Parameters
    ----------
    level : FieldOnMesh
        Solved for the remanences of its system.
    curves : mapping of region name to DemagnetisationCurve or None
        Second quadrants at the wanted temperature.
    warmth : mapping of region name to float
        Remanence there over that of the system.
    coil : (n,) array or None
        Reduced load of a coil current there.
    most : mapping of region name to (n,) array or float
        Shares left by what came before; 1 where absent.
    """

    level: FieldOnMesh
    curves: Curves
    warmth: Mapping[str, float]
    coil: Floats | None = None
    most: Mapping[str, float | Floats] = field(default_factory=dict)


def _along(level: FieldOnMesh, region: str) -> tuple[Floats, Floats]:
    """Return B along the magnetisation at a magnet's quadrature points, and their volumes."""
    system = level.system
    here = system.mesh.triangles_of(region)
    direction = np.array(system.magnets[region].remanence)
    b = level.flux_densities_of(region) @ (direction / np.hypot(*direction))
    return b, 2 * np.pi * system.weight[here]


def _volumes(level: FieldOnMesh, region: str) -> Floats:
    """Return the volume of each triangle of a magnet."""
    here = level.system.mesh.triangles_of(region)
    return np.asarray(2 * np.pi * level.system.weight[here].sum(axis=1))


def with_shares(
    context: Conditions, start: FieldOnMesh, shares: Mapping[str, float | Floats], *, warm: bool
) -> FieldOnMesh:
    """Return the level solved with the given shares, at the wanted temperature if ``warm``."""
    level = context.level
    scale = {
        name: np.asarray(shares.get(name, 1.0)) * (context.warmth[name] if warm else 1.0)
        for name in level.system.magnets
    }
    system = level.system.with_shares(scale)
    solver = level.solver.with_system(system)
    coil = context.coil if warm else None
    return FieldOnMesh(system, solver, solver.solve(start.solution.reduced, extra_load=coil))


def settle(context: Conditions) -> tuple[FieldOnMesh, Shares]:
    """Return the level at the wanted temperature, and the shares of remanence left.

    Raises
    ------
    SolveError
        If the field does not settle.
    """
    known = context.curves
    volumes = {name: _volumes(context.level, name) for name in known}
    most = {n: np.broadcast_to(context.most.get(n, 1.0), v.shape) for n, v in volumes.items()}

    def left(along: Shares) -> Shares:
        """Return the shares left where the mean flux densities along the remanence are these."""
        return {
            name: np.asarray(most[name])
            if curve is None
            else np.minimum(most[name], curve.left_at(along[name]))
            for name, curve in known.items()
        }

    level = context.level
    if any(abs(k - 1) > 1e-12 for k in context.warmth.values()) or context.coil is not None:
        level = with_shares(context, level, most, warm=True)
    first = left(level.system.along_magnets(level.solution.reduced))
    lost = [(most[n] - first[n]) @ v / v.sum() for n, v in volumes.items()]
    if max(lost, default=0.0) <= NEGLIGIBLE:
        return level, {name: np.array(share) for name, share in most.items()}
    a = lossy_potential(level, level.solution.reduced, left, context.warmth, context.coil)
    shares = left(level.system.along_magnets(a))
    start = FieldOnMesh(level.system, level.solver, Solution(a, level.solution.residuals))
    return with_shares(context, start, shares, warm=True), shares


def levels_of(field: Field) -> tuple[FieldOnMesh, ...]:
    """Return fine and coarse level; one where the field was solved on one mesh only."""
    return (field.fine,) if field.fine is field.coarse else (field.fine, field.coarse)


def demagnetised(
    field: Field, grades: Mapping[str, Magnet], temperatures: Mapping[str, float]
) -> Field:
    """Return the field of magnets that were assembled at 20 degC and taken to temperatures.

    Parameters
    ----------
    field : Field
        Solved with the remanences at those temperatures.
    grades : mapping of region name to Magnet
    temperatures : mapping of region name to float
        Kelvin.

    Returns
    -------
    Field
        The same one where nothing is lost; else that with shares of remanence in its systems,
        and the one before as ``before_loss``.

    Raises
    ------
    SolveError
    """
    same = dict.fromkeys(grades, 1.0)
    before: list[Mapping[str, float | Floats]] = [{} for _ in levels_of(field)]
    if any(abs(temperatures[name] - REFERENCE_TEMPERATURE) > 1e-9 for name in grades):
        home = {name: grade.curve_at(REFERENCE_TEMPERATURE) for name, grade in grades.items()}
        back = {
            name: g.remanence / g.remanence_at(temperatures[name]) for name, g in grades.items()
        }
        if _suspected(field.fine, home, back):
            before = [
                settle(Conditions(level, home, back))[1]  # what assembly has cost already
                for level in levels_of(field)
            ]
    curves = {name: grade.curve_at(temperatures[name]) for name, grade in grades.items()}
    if not any(before) and not _suspected(field.fine, curves, same, flattery=1.0):
        return field
    settled = []
    for level, most in zip(levels_of(field), before, strict=True):
        context = Conditions(level, curves, same, most=most)
        if any(np.min(share) < 1.0 for share in most.values()):
            context = replace(context, level=with_shares(context, level, most, warm=True))
        settled.append(settle(context)[0])
    lost = replace(field, fine=settled[0], coarse=settled[-1], before_loss=field)
    if lost.fine is not lost.coarse:
        _ = lost.errors  # while the solvers hold the tangents of these solutions
    return lost


def _suspected(
    level: FieldOnMesh, curves: Curves, scale: Mapping[str, float], *, flattery: float = FLATTERY
) -> bool:
    """Return whether more than a negligible share of some remanence is lost in a field."""
    along = level.system.along_magnets(level.solution.reduced)
    for name, curve in curves.items():
        if curve is not None:
            mean = scale[name] * along[name]
            if flattery == 1.0:
                fields = curve.field_at(mean)
            else:
                fields = flattery * (mean - curve.remanence) / (MU0 * curve.recoil_permeability)
            size = _volumes(level, name)
            if float(curve.loss(fields) @ size / size.sum()) > NEGLIGIBLE:
                return True
    return False


def magnet_health(field: Field, curves: Curves) -> tuple[MagnetHealth, ...]:
    """Return the state of every magnet of known coercivity in a solved field."""
    return tuple(_health(field, name, curve) for name, curve in curves.items() if curve is not None)


def _left(level: FieldOnMesh, region: str, curve: DemagnetisationCurve) -> Floats:
    """Return the share of the curve's remanence that each of a magnet's triangles has left."""
    system = level.system
    scale = math.hypot(*system.magnets[region].remanence) / curve.remanence
    here = system.mesh.triangles_of(region)
    return scale * np.broadcast_to(system.shares.get(region, 1.0), here.shape)


def _fields(
    level: FieldOnMesh, region: str, curve: DemagnetisationCurve
) -> tuple[Floats, Floats, int]:
    """Return the fields at a magnet's points, flat, their volumes, and the worst one's place."""
    b, volume = _along(level, region)
    remanence = curve.remanence * _left(level, region, curve)
    field = (b - remanence[:, None]) / (MU0 * curve.recoil_permeability)
    field, size = field.ravel(), volume.ravel()
    order = np.argsort(field)
    passed = np.cumsum(size[order]) / size.sum()
    return field, size, int(order[np.searchsorted(passed, WORST_SHARE)])


def _health(solved: Field, region: str, curve: DemagnetisationCurve) -> MagnetHealth:
    """Return a magnet's state from the fine and the coarse level."""
    alone = solved.fine is solved.coarse
    field, size, worst = here_fine = _fields(solved.fine, region, curve)
    before, _, worst_before = here_fine if alone else _fields(solved.coarse, region, curve)
    system = solved.fine.system
    here = system.mesh.triangles_of(region)
    points = system.points[:, here].reshape(2, -1)
    value, change = float(field[worst]), float(abs(field[worst] - before[worst_before]))
    mass = size.reshape(len(here), -1).sum(axis=1)
    lost = 1.0 - _left(solved.fine, region, curve)
    return MagnetHealth(
        region=region,
        worst_field=value,
        worst_position=(float(points[0, worst]), float(points[1, worst])),
        uncertainty=math.nan if alone else math.hypot(CHANGE * change, FLOOR * value),
        knee_field=curve.knee,
        share_past_knee=float(size[field < curve.knee].sum() / size.sum()),
        loss=max(0.0, float(lost @ mass / mass.sum())),
    )
