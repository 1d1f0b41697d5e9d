"""Magnetising in the assembled motor: where a fixture's pulse reaches, and Bl with what it leaves.

The fixture's coil carries its peak current around the unmagnetised motor; steel saturates, the
magnets answer with their recoil permeability.  Eddy currents of the pulse are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import InvalidInput, Region, Role, millimetres, polygon
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.steps import step
from motor.field.field import Estimate, FieldOnMesh
from motor.field.meshing import Sizing, generate
from motor.field.newton import Solver
from motor.field.partition import partition
from motor.field.weak_form import Discretisation, MagnetState
from motor.results.magnet_state import levels_of
from motor.results.motor_field import field_materials
from motor.results.profile import bl_goal

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["FACTOR", "Fixture", "Magnetised", "Magnetising", "magnetise"]

FACTOR = 2.0
"""Field that a virgin magnet needs, over its saturation polarisation / mu0: of sintered neodymium
(doi 10.12338/j.issn.2096-9015.2020.9012; 3 for one magnetised the other way before).  For other
families common practice, no source."""
FIXTURE = "fixture_coil"
MEAN, LEAST = (0.5, 5e-4), (1.5, 1.5e-2)
"""Uncertainty of means and of the least field: times the change between the meshes, and a share of
the mean.  Set on the 27 magnets of 22 random motors."""


@dataclass(frozen=True)
class Fixture:
    """The magnetising coil's section and current.

    Parameters
    ----------
    inner, outer : float
        Radii, metres.
    low, high : float
        Heights above the middle of the gap, metres.
    ampere_turns : float
        At the pulse's peak.
    """

    inner: float
    outer: float
    low: float
    high: float
    ampere_turns: float


@dataclass(frozen=True)
class Magnetised:
    """What the pulse does to one magnet.

    Parameters
    ----------
    region : str
    needed : float
        Field along the magnetisation that it needs, A/m.
    least, mean : Estimate
        Field reached, along the magnetisation: what all but a thousandth of the volume exceed,
        and the volume's mean, A/m.
    short : float
        Share of the volume below the needed field.
    left : float
        Mean share of the remanence that is reached.
    """

    region: str
    needed: float
    least: Estimate
    mean: Estimate
    short: float
    left: float


@dataclass(frozen=True)
class Magnetising:
    """A pulse on an assembled motor.

    Parameters
    ----------
    name : str
    fixture : Fixture
    factor : float
        See :data:`FACTOR`.
    magnets : tuple of Magnetised
    bl : Estimate
        At rest with what the pulse leaves, T m.
    bl_full : Estimate
        At rest, fully magnetised.
    unsourced : tuple of str
        Magnets for whose family no source is known for what they need.
    """

    name: str
    fixture: Fixture
    factor: float
    magnets: tuple[Magnetised, ...]
    bl: Estimate
    bl_full: Estimate
    unsourced: tuple[str, ...] = ()

    @property
    def notes(self) -> list[str]:
        """Magnets that are not reached, and what is not known of them."""
        found = [
            f"{100 * m.short:.3g} % of {m.region.replace('_', ' ')} stay below the "
            f"{m.needed / 1e3:.0f} kA/m that it needs"
            for m in self.magnets
            if m.short > 1e-3
        ]
        if found:
            found.append("remanence below that field is taken to rise in proportion to it: a guess")
        names = " and ".join(self.unsourced).replace("_", " ")
        if names:
            found.append(
                f"what {names} needs is the rule of sintered neodymium, {self.factor:g} times its "
                "polarisation over µ0; for its own family that is common practice, no source: ask "
                "its maker"
            )
        return found

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON."""
        return {
            **origin(),
            "name": self.name,
            "ampere_turns_A": self.fixture.ampere_turns,
            "needed_over_saturation": self.factor,
            "bl_at_rest_Tm": self.bl.value,
            "bl_at_rest_uncertainty_Tm": finite(self.bl.uncertainty),
            "bl_fully_magnetised_Tm": self.bl_full.value,
            "magnets": [
                {
                    "name": m.region,
                    "needed_kA_per_m": m.needed / 1e3,
                    "least_kA_per_m": m.least.value / 1e3,
                    "least_uncertainty_kA_per_m": finite(m.least.uncertainty / 1e3),
                    "mean_kA_per_m": m.mean.value / 1e3,
                    "mean_uncertainty_kA_per_m": finite(m.mean.uncertainty / 1e3),
                    "share_short_percent": 100 * m.short,
                    "remanence_left_percent": 100 * m.left,
                }
                for m in self.magnets
            ],
            "notes": self.notes,
        }


def magnetise(
    result: MotorResult,
    fixture: Fixture,
    *,
    factor: float = FACTOR,
    sizing: Sizing | None = None,
) -> Magnetising:
    """Return what a fixture's pulse does to a motor's magnets.

    Parameters
    ----------
    result : MotorResult
        Of the motor, solved on two meshes.
    fixture : Fixture
    factor : float
        See :data:`FACTOR`.
    sizing : Sizing or None
        Fineness of the coarse mesh on which the pulse is solved; None for the default.

    Raises
    ------
    InvalidInput
        If the coil has no section, overlaps a part, or a number is not above 0.
    MeshError, SolveError
    """
    design = result.design
    for word, value in (("factor", factor), ("ampere turns", fixture.ampere_turns)):
        if not value > 0:
            raise InvalidInput(word, "be greater than 0", value)
    coil = _coil(fixture, design.regions)
    pulses = _pulses((*design.regions, coil), result, fixture, sizing)
    _, magnets = field_materials(design)
    shares: list[dict[str, Floats]] = []
    reached: list[dict[str, tuple[Floats, Floats]]] = []
    needs = {name: factor * float(np.hypot(*m.remanence)) / MU0 for name, m in magnets.items()}
    for level, pulse in zip(levels_of(result.field), pulses, strict=True):
        sign = _sense(level, pulse, magnets)
        fields = {
            name: _along(level, pulse, name, magnet, sign) for name, magnet in magnets.items()
        }
        reached.append(fields)
        shares.append({name: np.clip(h / needs[name], 0, 1) for name, (h, _) in fields.items()})
    goal = bl_goal(design.coil)
    bl = []
    for level, share in zip(levels_of(result.field), shares, strict=True):
        system = level.system.with_shares(share)
        found = level.solver.with_system(system).solve(level.solution.reduced)
        bl.append(abs(float(goal(level) @ found.reduced)))
    rows = []
    for name, need in needs.items():
        (h, size), *rest = (fields[name] for fields in reached)
        before, weight = rest[0] if rest else (h, size)
        mean = float(h @ size / size.sum())
        rows.append(
            Magnetised(
                name,
                need,
                _estimate(_lowest(h, size), _lowest(before, weight), LEAST, mean),
                _estimate(mean, float(before @ weight / weight.sum())),
                float(size[h < need].sum() / size.sum()),
                float(shares[0][name] @ size / size.sum()),
            )
        )
    unsourced = [n for n in needs if design.materials.magnet_of(n).family != "neodymium"]
    return Magnetising(
        name=design.name,
        fixture=fixture,
        factor=factor,
        magnets=tuple(rows),
        bl=_estimate(bl[0], bl[-1]),
        bl_full=result.bl_curve.at_rest,
        unsourced=tuple(unsourced),
    )


def _estimate(
    fine: float,
    coarse: float,
    factors: tuple[float, float] = MEAN,
    scale: float | None = None,
) -> Estimate:
    change, floor = factors
    size = abs(fine if scale is None else scale)
    return Estimate(fine, change * abs(fine - coarse) + floor * size)


def _lowest(h: Floats, size: Floats) -> float:
    """Return the field that all but a thousandth of the volume exceed."""
    order = np.argsort(h)
    passed = np.cumsum(size[order]) / size.sum()
    return float(h[order[np.searchsorted(passed, 1e-3)]])


def _coil(fixture: Fixture, regions: tuple[Region, ...]) -> Region:
    """Return the fixture's coil as a region."""
    if not (0 <= fixture.inner < fixture.outer and fixture.low < fixture.high):
        raise InvalidInput("fixture", "have a section", fixture)
    outline = (
        (fixture.inner, fixture.low),
        (fixture.outer, fixture.low),
        (fixture.outer, fixture.high),
        (fixture.inner, fixture.high),
    )
    coil = Region(FIXTURE, Role.CONDUCTOR, outline, material="copper")
    for region in regions:
        common = polygon(coil).intersection(polygon(region))
        if common.area > 1e-10:
            raise InvalidInput(
                "fixture",
                "stay clear of the motor",
                f"{millimetres(common.bounds[2] - common.bounds[0])} of {region.name}",
            )
    return coil


def _pulses(
    regions: tuple[Region, ...], result: MotorResult, fixture: Fixture, sizing: Sizing | None
) -> list[FieldOnMesh]:
    """Return the fixture's field in the unmagnetised motor, on the fine and the coarse mesh."""
    steels, magnets = field_materials(result.design)
    bare = {
        name: MagnetState((0.0, 0.0), magnet.recoil_permeability)
        for name, magnet in magnets.items()
    }
    area = (fixture.outer - fixture.inner) * (fixture.high - fixture.low)
    coarse = generate(partition(regions, result.design.geometry.gap), sizing)
    found = []
    for mesh in (coarse.halved(), coarse):
        with step("fixture's field"):
            system = Discretisation(mesh, steels, bare)
            here = mesh.triangles_of(FIXTURE)
            density = fixture.ampere_turns / area
            block = np.einsum("eq,eqi->ei", system.weight[here] * density, system.values[here])
            load = system.gather(system.nodes[here], block)
            solver = Solver(system)
            found.append(FieldOnMesh(system, solver, solver.solve(extra_load=load)))
    return found[: len(levels_of(result.field))]


def _points(level: FieldOnMesh, name: str) -> tuple[Floats, Floats]:
    """Return the centres of a magnet's triangles, array (2, n), and their volumes."""
    mesh, here = level.system.mesh.mesh, level.system.mesh.triangles_of(name)
    return mesh.p[:, mesh.t[:, here]].mean(axis=1), 2 * np.pi * level.system.weight[here].sum(
        axis=1
    )


def _along(
    level: FieldOnMesh, pulse: FieldOnMesh, name: str, magnet: MagnetState, sign: float
) -> tuple[Floats, Floats]:
    """Return the pulse's field along the magnetisation in a magnet's triangles, and volumes."""
    points, volume = _points(level, name)
    direction = np.array(magnet.remanence) / np.hypot(*magnet.remanence)
    b = pulse.flux_density(*points) @ direction
    return sign * b / (MU0 * magnet.recoil_permeability), volume


def _sense(level: FieldOnMesh, pulse: FieldOnMesh, magnets: dict[str, MagnetState]) -> float:
    """Return the current's sense that magnetises more."""
    total = sum(
        float(h @ volume)
        for name, magnet in magnets.items()
        for h, volume in [_along(level, pulse, name, magnet, 1.0)]
    )
    return 1.0 if total >= 0 else -1.0
