"""One design solved: the record that holds every result, and the function that makes it."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geometries import InvalidInput, Role, millimetres, volume
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import Drawable, Printable
from motor.base.errors import SolveError
from motor.base.steps import step
from motor.design.design import Clearance, Design, Travel
from motor.design.reading import read_design
from motor.field.field import Estimate, Field, FieldOnMesh
from motor.field.meshing import Sizing
from motor.field.partition import OUTER_RATIO
from motor.field.weak_form import MagnetState
from motor.materials import conductor_named, former_named
from motor.results.beyond_table import BeyondTable, beyond_tables, material_uncertainty, other_ends
from motor.results.bl import BlCurve, LinearStroke
from motor.results.budget import (
    FluxBudget,
    SteelLoad,
    WorkingPoint,
    flux_budget,
    leakage_to_coil,
    steel_loads,
    stray_field,
    utilisation,
    working_points,
)
from motor.results.forces import MotorForces, holder_of, motor_forces
from motor.results.gap import GapProfile, further_means, gap_profile, profile_reach
from motor.results.loaded import LoadedCoil, check_current, loaded_coil
from motor.results.magnet_state import NEGLIGIBLE, MagnetHealth, magnet_health
from motor.results.motor_field import field_materials, solved_field
from motor.results.profile import FluxProfile, bl_goal
from motor.results.result_notes import notes_of
from motor.results.sampling import sampled
from motor.results.summary import summary
from motor.results.usable_stroke import UsableStroke, design_limits, least_limit

__all__ = ["MotorResult", "UsableStroke", "read_off", "read_off_other_coil", "solve"]

LOST_CHANGE, LOST_SHARE, LOST_LEAST = 0.45, 0.005, 3e-5
"""Uncertainty of the share of Bl lost for good: its change between the meshes times the first and
the second share of it, as squares, and the third.  Set on 169 motors whose magnets have lost
something, 15 of them drawn, to hold for 96 %."""


@dataclass(frozen=True)
class MotorResult(Drawable, Printable):
    """A solved design.  Computed once, frozen; derived figures are properties.

    Parameters
    ----------
    design : Design
    field : Field
        The magnets' field, without coil current.
    profile : FluxProfile
        Flux function along the coil's path.
    bl_curve : BlCurve
    further_profiles : tuple of FluxProfile
        Along the paths of the coil's parts.
    """

    design: Design
    field: Field
    profile: FluxProfile
    bl_curve: BlCurve
    further_profiles: tuple[FluxProfile, ...] = ()

    @functools.cached_property
    def gap_profile(self) -> GapProfile:
        """B_r along the gap."""
        gap, coil = self.design.geometry.gap, self.design.coil
        reach = profile_reach(gap, coil.winding_height)
        return gap_profile(self.field, gap, coil.mean_radius, reach)

    @functools.cached_property
    def further_gaps(self) -> list[Estimate]:
        """Mean flux density in further gaps, tesla; see :func:`further_means`."""
        return further_means(self.field, self.design.geometry.gap)

    @functools.cached_property
    def flux_budget(self) -> FluxBudget:
        """Flux through magnets and gap."""
        return flux_budget(self.field, self.design.geometry.gap, self.design.coil.mean_radius)

    @functools.cached_property
    def working_points(self) -> list[WorkingPoint]:
        """Mean working point of each magnet."""
        return working_points(self.field, self._magnets)

    @functools.cached_property
    def magnet_health(self) -> tuple[MagnetHealth, ...]:
        """Worst field, margin to the knee and loss of every magnet whose coercivity is known."""
        grade, kelvin = self.design.materials.magnet_of, self.design.temperature_of
        curves = {name: grade(name).curve_at(kelvin(name)) for name in self._magnets}
        return magnet_health(self.field, curves)

    @functools.cached_property
    def demagnetisation_margin(self) -> Estimate | None:
        """Least margin to the knee of all magnets in A/m; None if no coercivity is known."""
        worst = min(self.magnet_health, key=lambda m: m.margin, default=None)
        return None if worst is None else Estimate(worst.margin, worst.uncertainty)

    @functools.cached_property
    def irreversible_loss(self) -> Estimate:
        """Share of Bl at rest that is lost for good at the design's temperature."""
        if self.field.before_loss is None:
            return Estimate(0.0, math.nan if self.field.fine is self.field.coarse else NEGLIGIBLE)
        fine, coarse = (
            1 - self._bl(after) / self._bl(before)
            for after, before in (
                (self.field.fine, self.field.before_loss.fine),
                (self.field.coarse, self.field.before_loss.coarse),
            )
        )
        alone = self.field.fine is self.field.coarse
        spread = math.hypot(LOST_CHANGE * (fine - coarse), LOST_SHARE * fine) + LOST_LEAST
        return Estimate(fine, math.nan if alone else spread)

    def _bl(self, level: FieldOnMesh) -> float:
        return float(bl_goal(self.design.coil)(level) @ level.solution.reduced)

    @functools.cached_property
    def forces(self) -> MotorForces | None:
        """Axial magnetic force on every part and joint; None without steel to hold the motor."""
        regions = self.design.regions
        if not any(r.role is Role.STEEL for r in regions):
            return None
        return motor_forces(self.field, holder_of(regions, self.design.geometry.gap))

    @functools.cached_property
    def steel_loads(self) -> list[SteelLoad]:
        """Peak and mean flux density of each steel part."""
        return steel_loads(self.field)

    @functools.cached_property
    def stroke_82(self) -> LinearStroke:
        """Stroke over which Bl stays above 82 % of its rest value."""
        return self.bl_curve.stroke(0.82)

    @functools.cached_property
    def stroke_70(self) -> LinearStroke:
        """Stroke over which Bl stays above 70 % of its rest value."""
        return self.bl_curve.stroke(0.70)

    @functools.cached_property
    def best_rest_position(self) -> tuple[Estimate, Estimate]:
        """Rest position with the longest symmetric 82 % stroke, and that stroke; metres."""
        return self.bl_curve.best_rest_position(0.82)

    @functools.cached_property
    def travel(self) -> Travel:
        """Free mechanical travel."""
        return self.design.travel

    @functools.cached_property
    def clearance(self) -> Clearance:
        """Radial clearance of the coil."""
        return self.design.clearance

    @functools.cached_property
    def stroke_limits(self) -> dict[str, Estimate]:
        """Every known limit of the stroke, one-way, metres."""
        bl = {"bl_82": self.stroke_82.symmetric, "bl_70": self.stroke_70.symmetric}
        return bl | design_limits(self.design)

    @property
    def usable_stroke(self) -> UsableStroke:
        """Least of the limits that the design asks to respect."""
        return least_limit(self.stroke_limits, self.design.stroke.limits)

    @property
    def resistance(self) -> float:
        """Coil resistance in ohm at the design's temperature."""
        return self.design.coil.resistance(self.design.temperature)

    @property
    def motor_constant(self) -> Estimate:
        """Bl^2/Re at rest, in N^2/W."""
        bl = self.bl_curve.at_rest
        value = bl.value**2 / self.resistance
        return Estimate(value, 2 * bl.value * bl.uncertainty / self.resistance)

    @functools.cached_property
    def masses(self) -> dict[str, float]:
        """Mass of every part of the motor in kg, by region name."""
        materials = self.design.materials
        return {
            region.name: materials.material_of(region).density * volume(region)
            for region in self.design.regions
        }

    def mass_of(self, *roles: Role) -> float:
        """Return the mass in kg of all parts with one of the given roles (of all, if none)."""
        names = {r.name for r in self.design.regions if not roles or r.role in roles}
        return sum(mass for name, mass in self.masses.items() if name in names)

    @functools.cached_property
    def costs(self) -> dict[str, float]:
        """Cost of every part at the tables' prices per kilogram, by region name, and the coil's."""
        materials, coil = self.design.materials, self.design.coil
        costs = {
            region.name: materials.price_of(materials.material_of(region))
            * self.masses[region.name]
            for region in self.design.regions
        }
        costs["coil"] = sum(
            materials.price_of(conductor_named(c.wire.material)) * c.mass for c in coil.each
        )
        if coil.former_mass:
            former = former_named(coil.former_material)
            costs["coil"] += materials.price_of(former) * coil.former_mass
        return costs

    @functools.cached_property
    def utilisation(self) -> Estimate:
        """Energy in the gap over the most that the magnets could give outside, by volume.

        Field energy in the gap between steel and steel, over its depth; for the magnets half
        their volume times the largest energy product of the straight recoil line.
        """
        most = sum(
            volume(self.field.region(name)) * m.energy_density for name, m in self._magnets.items()
        )
        return utilisation(self.field, self.design.geometry.gap, most)

    @functools.cached_property
    def _magnets(self) -> dict[str, MagnetState]:
        return field_materials(self.design)[1]

    @functools.cached_property
    def leakage_factor_to_coil(self) -> Estimate:
        """Magnet flux over the flux that the main winding at rest cuts; infinite if it cuts none.

        That flux is the one through the cylinder between the winding's ends, the mean over its
        radii: Bl times the winding's height over its turns.  It counts the fringes beside the gap
        that an overhung coil uses.
        """
        coil = self.design.coil.each[0]
        goal, per_bl = bl_goal(coil), coil.winding_height / coil.turns_in_series
        return leakage_to_coil(self.field, goal, per_bl)

    def stray_field(self, distance: float) -> Estimate:
        """Return the largest |B| in tesla at a distance in metres from the motor's envelope.

        The envelope is the sphere around the motor.
        """
        if not (math.isfinite(distance) and distance >= 0):
            raise InvalidInput("distance", "be 0 or more", millimetres(distance))
        return stray_field(self.field, distance)

    @functools.cached_property
    def beyond_tables(self) -> list[BeyondTable]:
        """Steel parts whose peak flux density passes the last row of their steel's table."""
        return beyond_tables(self.design.materials, self.steel_loads)

    @functools.cached_property
    def _other_ends(self) -> list[MotorResult]:
        """The design on one mesh, with less and with more saturation beyond its tables."""
        ends = other_ends(self.design, self.beyond_tables)
        with step("steel beyond its table"):
            return [solve(d, uncertainty=False, warm_start=self) for d in (self.design, *ends)]

    def material_uncertainty(self, figure: Callable[[MotorResult], float]) -> float:
        """Return what steel beyond its table leaves open of a figure, in the figure's unit.

        0 where no part passes its table; nan if solved on one mesh only, or if steel that
        saturates earlier finds no solution.  Includes 95 % of tables cut short of what is known
        of their steel; comes on top of the numerical uncertainty.
        """
        if not self.beyond_tables:
            return 0.0
        if self.field.fine is self.field.coarse:
            return math.nan
        try:
            middle, *ends = self._other_ends
        except SolveError:
            return math.nan
        return material_uncertainty(figure(middle), [figure(end) for end in ends])

    @property
    def notes(self) -> list[str]:
        """Warnings about published ranges that temperature or flux density leave, and losses."""
        return notes_of(self, self._magnets)

    @property
    def moving_mass(self) -> float | None:
        """Moving mass with the winding in kg; None if the design has no moving parts."""
        parts = self.design.moving_parts
        return None if parts is None else parts.moving_mass(self.design.coil)

    @property
    def resonance(self) -> float | None:
        """Resonance of moving mass and suspension in Hz; None without moving parts."""
        mass, parts = self.moving_mass, self.design.moving_parts
        if mass is None or parts is None:
            return None
        return math.sqrt(parts.stiffness_at_rest / mass) / (2 * math.pi)

    def loaded(
        self, position: float, current: float, *, accuracy: float | None = None
    ) -> LoadedCoil:
        """Solve with the coil's own current (A) at a displacement from rest (m).

        ``accuracy`` is the relative uncertainty of the force to be reached by refining for it.

        Raises
        ------
        InvalidInput
            If the current is 0 or would melt the winding at once, or the coil cannot be there.
        SolveError
        """
        low, high = self.bl_curve.x[[0, -1]]
        if not low <= position <= high:
            raise InvalidInput(
                "position",
                f"lie within the coil's travel, {millimetres(low)} to {millimetres(high)}",
                millimetres(position),
            )
        check_current(self.design.coil, current)
        with step(f"field with {current:g} A in the coil"):
            coil = self.design.coil
            return loaded_coil(self.field, coil, position, current, accuracy=accuracy)

    def summary(self) -> dict[str, Any]:
        """Return the figures that scripts rely on, see motor.results.summary."""
        return summary(self)


@one_blas_thread()
def solve(
    design: Design | str | Path,
    *,
    accuracy: float | None = None,
    sizing: Sizing | None = None,
    outer_ratio: float = OUTER_RATIO,
    uncertainty: bool = True,
    warm_start: MotorResult | None = None,
) -> MotorResult:
    """Solve one design: field, Bl(x), stroke and all derived figures.

    Parameters
    ----------
    design : Design or path
        A design, or its file.
    accuracy : float or None
        Relative numerical uncertainty of Bl at rest to be reached; None to take the default
        mesh as it is.
    sizing : Sizing or None
        Fineness of the first mesh; None for the default.
    outer_ratio : float
        Radius of the outer boundary over the motor's reach.
    uncertainty : bool
        False to solve on one mesh only, for sweeps: less than half the time, five times
        the error of Bl (ten times that of strokes), every uncertainty nan.
    warm_start : MotorResult or None
        A similar motor's result, to start from.

    Raises
    ------
    InvalidInput, MeshError, SolveError
    """
    if not isinstance(design, Design):
        design = read_design(design)
    field = solved_field(
        design,
        accuracy=accuracy,
        sizing=sizing,
        outer_ratio=outer_ratio,
        uncertainty=uncertainty,
        warm_start=None if warm_start is None else warm_start.field,
    )
    with step("Bl(x)"):
        return read_off(design, field)


def read_off(design: Design, field: Field, like: MotorResult | None = None) -> MotorResult:
    """Return the results of a design whose field is solved already.

    The coil may differ from the one the field was first solved for: it carries no current.
    With ``like``, the result of a design that differs by little, everything is sampled
    where that one was, so that differences of the two are free of the samples' own.
    """
    profiles, curve = sampled(design, field, like)
    return MotorResult(design, field, profiles[0], curve, tuple(profiles[1:]))


def read_off_other_coil(design: Design, field: Field) -> MotorResult:
    """Return the results of a design that shares its field with another but for the coil."""
    return read_off(design, dataclasses.replace(field, goal=bl_goal(design.coil)))
