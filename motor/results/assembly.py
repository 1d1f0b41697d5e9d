"""Force while parts of a motor are brought together along the axis: what a fixture must hold."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from geometries import InvalidInput, Region, Role, millimetres
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import DrawablePage
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.design.design import Design
from motor.field.field import Estimate, Field
from motor.field.partition import envelope
from motor.field.solve import solve_field
from motor.materials import REFERENCE_TEMPERATURE
from motor.results.approach import Cut, lifted, slit_cuts, split, spoken, way_out
from motor.results.forces import force_estimate
from motor.results.inertia import body_of
from motor.results.magnet_state import MagnetHealth, magnet_health
from motor.results.motor_field import field_materials

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["Assembly", "assemble", "usual_parts"]

STEPS = 17
"""Distances, the closed joint among them."""
HALVINGS = 9
"""How often the farthest distance is halved for the nearest."""
TRIES, CLOSE = 5, 1e-4
"""Samples more at most where the holding force is passed, until one lies so near, relative."""
OF_ENERGY = 0.3
"""Uncertainty of the energy by its samples: this times what straight lines between them change."""


@dataclass(frozen=True)
class Assembly(DrawablePage):
    """Force between the parts that are brought together and those that wait, over the distance.

    Parameters
    ----------
    name : str
    moving, standing : tuple of str
        Parts that move as one, and parts that stand still.
    outwards : bool
        Whether the moving ones come from outside (above) or from the back (below).
    distance : (n,) array
        From the seat, metres, from 0 (closed) on.
    pull, uncertainty : (n,) array
        Newton; positive where the parts draw together.
    mass : float
        Of the moving parts, kg.
    holding : float or None
        Force in newton that hands or a fixture hold.
    magnets : tuple of MagnetHealth
        At the place where each magnet's margin to the knee is least.
    worst_at : tuple of float
        Those places, metres from the seat.
    """

    name: str
    moving: tuple[str, ...]
    standing: tuple[str, ...]
    outwards: bool
    distance: Floats
    pull: Floats
    uncertainty: Floats
    mass: float
    holding: float | None
    magnets: tuple[MagnetHealth, ...]
    worst_at: tuple[float, ...]

    def force(self, distance: Floats | float) -> Floats:
        """Return the pull in newton at distances in metres within the samples."""
        even = _even(self.distance)
        at = np.log1p(np.asarray(distance, float) / self.distance[1])
        return np.asarray(PchipInterpolator(even, self.pull)(at))

    @functools.cached_property
    def peak(self) -> tuple[Estimate, float]:
        """Largest force of either sign, N, and its distance, metres."""
        k = int(np.abs(self.pull).argmax())
        return self._at(k), float(self.distance[k])

    @property
    def closed(self) -> Estimate:
        """Pull once the parts touch, N."""
        return self._at(0)

    def _at(self, k: int) -> Estimate:
        return Estimate(float(self.pull[k]), float(self.uncertainty[k]))

    @functools.cached_property
    def energy(self) -> Estimate:
        """Energy in joule that the magnets give off from the farthest distance to the seat.

        What they would still give from beyond is left out.
        """
        even = _even(self.distance)
        density = self.pull * self.distance[1] * np.exp(even)
        smooth = float(PchipInterpolator(even, density).integrate(even[0], even[-1]))
        spread = float(np.trapezoid(self.uncertainty, self.distance))
        straight = float(np.trapezoid(self.pull, self.distance))
        return Estimate(smooth, spread + OF_ENERGY * abs(smooth - straight))

    @property
    def strike_speed(self) -> float:
        """Speed in m/s at which the moving parts strike, let go at the farthest distance."""
        return math.sqrt(2 * max(self.energy.value, 0.0) / self.mass)

    @functools.cached_property
    def passed(self) -> Estimate | None:
        """Distance in metres within which the pull passes the holding force; None if nowhere."""
        if self.holding is None:
            return None
        place = _crossing(self.distance, np.abs(self.pull) - self.holding)
        if place is None:
            return None
        if place == self.distance[-1]:
            return Estimate(place, math.nan)
        near = np.abs(np.array([self.force(place * k) for k in (0.99, 1.01)]))
        slope = abs(float(near[1] - near[0])) / (0.02 * place)
        spread = float(np.interp(place, self.distance, self.uncertainty))
        return Estimate(place, spread / slope)

    @property
    def side(self) -> str:
        """Where the moving parts come from."""
        return "above" if self.outwards else "below"

    @property
    def notes(self) -> list[str]:
        """What to look out for in this assembly."""
        found = []
        for magnet, place in zip(self.magnets, self.worst_at, strict=True):
            if magnet.margin < -magnet.uncertainty:
                found.append(
                    f"{spoken([magnet.region])} passes its knee {place * 1e3:.3g} mm from the "
                    f"seat, {100 * magnet.share_past_knee:.2g} % of it: magnetised before it is "
                    "assembled, it loses remanence for good"
                )
        if (self.pull < -self.uncertainty).any():
            far = self.distance[self.pull < -self.uncertainty].max()
            found.append(
                f"the parts push each other apart within {far * 1e3:.3g} mm: they must be held "
                "until the joint bears"
            )
        if self.passed is not None and math.isnan(self.passed.uncertainty):
            found.append("the holding force is passed at the farthest distance already")
        return found

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON; "rows" is the force over distance."""
        peak, place = self.peak
        record: dict[str, Any] = {
            **origin(),
            "name": self.name,
            "moving": list(self.moving),
            "standing": list(self.standing),
            "comes_from": self.side,
            "moving_mass_g": self.mass * 1e3,
            "closed_pull_N": self.closed.value,
            "closed_pull_uncertainty_N": finite(self.closed.uncertainty),
            "peak_N": peak.value,
            "peak_uncertainty_N": finite(peak.uncertainty),
            "peak_distance_mm": place * 1e3,
            "energy_J": self.energy.value,
            "energy_uncertainty_J": finite(self.energy.uncertainty),
            "strike_speed_m_per_s": self.strike_speed,
        }
        if self.holding is not None:
            passed = self.passed
            record |= {
                "holding_N": self.holding,
                "holding_passed_mm": None if passed is None else passed.value * 1e3,
                "holding_passed_uncertainty_mm": (
                    None if passed is None else finite(passed.uncertainty * 1e3)
                ),
            }
        columns = zip(self.distance, self.pull, self.uncertainty, strict=True)
        record["rows"] = [
            {"distance_mm": x * 1e3, "pull_N": f, "pull_uncertainty_N": s}
            for x, f, s in ((float(x), float(f), float(s)) for x, f, s in columns)
        ]
        return {**record, "notes": self.notes}


@one_blas_thread()
def assemble(
    design: Design,
    parts: Collection[str],
    *,
    without: Collection[str] = (),
    holding: float | None = None,
    farthest: float | None = None,
    steps: int = STEPS,
) -> Assembly:
    """Return the force over distance as parts approach the rest along the axis.

    All magnets magnetised, at 20 degC, nothing lost.

    Parameters
    ----------
    design : Design
    parts : collection of str
        What moves as one.
    without : collection of str
        Parts that are not there yet.
    holding : float or None
        Force in newton whose distance is asked for.
    farthest : float or None
        Farthest distance from the seat, metres; None for as much as the motor reaches from its
        middle.
    steps : int
        How many distances, the closed joint among them, at least 3: halved from the farthest
        on, then where the pull changes most.

    Raises
    ------
    InvalidInput
        For parts that there are not, nothing that moves or stands, no magnet, parts that cannot
        move apart along the axis, or numbers not above 0.
    MeshError, SolveError
    """
    design = design.at(REFERENCE_TEMPERATURE)
    moving, standing = split(design.regions, parts, without)
    for word, value in (("holding", holding), ("distance", farthest)):
        if value is not None and not value > 0:
            raise InvalidInput(word, "be greater than 0", value)
    if steps < 3:
        raise InvalidInput("steps", "be at least 3", steps)
    reach = envelope([*moving, *standing])[1]
    far = reach if farthest is None else farthest
    if far > 10 * reach:
        raise InvalidInput("distance", f"be at most {millimetres(10 * reach)}", millimetres(far))
    outwards = way_out(moving, standing)
    names = [region.name for region in moving]
    curves = {
        r.name: design.materials.magnet_of(r.name).curve_at(design.temperature)
        for r in (*moving, *standing)
        if r.role is Role.MAGNET
    }
    found: dict[float, tuple[float, float, tuple[MagnetHealth, ...]]] = {}
    for distance in _distances(far, steps, holding, found):
        with step(f"{distance * 1e3:.3g} mm apart"):
            lift = distance if outwards else -distance
            regions = [*standing, *(lifted(r, lift) for r in moving)]
            field = _solved(design, regions, slit_cuts(moving, standing, lift))
            force = force_estimate(field, names)
            drawn = -force.value if outwards else force.value
            found[distance] = drawn, force.uncertainty, magnet_health(field, curves)
    distances = np.array(sorted(found))
    pull, spread, health = zip(*(found[x] for x in distances.tolist()), strict=True)
    worst = [
        min(range(len(health)), key=lambda k: health[k][m].margin) for m in range(len(health[0]))
    ]
    return Assembly(
        name=design.name,
        moving=tuple(names),
        standing=tuple(r.name for r in standing),
        outwards=outwards,
        distance=distances,
        pull=np.array(pull),
        uncertainty=np.array(spread),
        mass=sum(body_of(r, design.materials.material_of(r).density).mass for r in moving),
        holding=holding,
        magnets=tuple(health[k][m] for m, k in enumerate(worst)),
        worst_at=tuple(float(distances[k]) for k in worst),
    )


def usual_parts(result: MotorResult) -> tuple[str, ...]:
    """Return the parts beyond the joint that is drawn together most; none where none comes apart.

    Of a solved motor: those that a fixture must hold back as the last joint is closed.
    """
    joints = () if result.forces is None else result.forces.joints
    known = [(joint.pull.value, joint.outer) for joint in joints if joint.pull is not None]
    for _, parts in sorted(known, reverse=True):
        try:
            way_out(*split(result.design.regions, parts, ()))
        except InvalidInput:
            continue
        return parts
    return ()


def _even(distance: Floats) -> Floats:
    """Return distances on a scale on which the halvings are evenly spaced, but for the first."""
    return np.asarray(np.log1p(distance / distance[1]))


def _crossing(distance: Floats, over: Floats) -> float | None:
    """Return the farthest distance at which a curve falls to 0, the last if it does not fall."""
    if not (over > 0).any():
        return None
    k = int(np.flatnonzero(over > 0)[-1])
    if k == len(over) - 1:
        return float(distance[-1])
    even = _even(distance)
    place = brentq(PchipInterpolator(even, over), even[k], even[k + 1])
    return float(distance[1] * math.expm1(place))


def _distances(
    far: float, count: int, holding: float | None, found: Mapping[float, tuple[Any, ...]]
) -> Iterator[float]:
    """Give the distances: 0, halvings of the farthest, where energy is least known, the crossing.

    ``found`` holds what each distance given so far has brought, the pull first.
    """
    first = min(HALVINGS, count - 2)
    yield from (0.0, *(far / 2.0 ** np.arange(first, -1, -1)).tolist())
    for _ in range(count - first - 2):
        places = sorted(found)
        _, low, high = max(
            (abs(found[a][0] - found[b][0]) * (b - a), a, b) for a, b in itertools.pairwise(places)
        )
        yield math.sqrt(low * high) if low else high / 2
    for _ in range(0 if holding is None else TRIES):
        given = np.array(sorted(found))
        over = np.array([abs(found[x][0]) for x in given.tolist()]) - (holding or 0.0)
        place = _crossing(given, over)
        if place is not None and np.abs(given - place).min() > CLOSE * place:
            yield place


def _solved(design: Design, regions: Sequence[Region], cuts: Sequence[Cut]) -> Field:
    """Return the field of some of a design's parts, wherever they stand; all remanence held."""
    names = {region.name for region in regions}
    steels, magnets = field_materials(design)
    return solve_field(
        regions,
        design.geometry.gap,
        {name: law for name, law in steels.items() if name in names},
        {name: law for name, law in magnets.items() if name in names},
        cuts=cuts,
    )
