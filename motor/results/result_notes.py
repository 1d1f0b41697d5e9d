"""What a result says in words: ranges that are left, tables that are passed, Bl that is lost."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from geometries import Role
from motor.base.constants import ZERO_CELSIUS
from motor.design.design import Design

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["magnet_degrees", "magnet_notes", "notes_of"]

NOTED = 5e-4
"""Share of Bl lost for good from which on a result says so in words."""


def notes_of(result: MotorResult, magnets: Iterable[str]) -> list[str]:
    """Return warnings about published ranges that a motor leaves, and about losses.

    ``magnets`` are the names of its magnet regions.
    """
    of_range, of_loss = magnet_notes(result, magnets)
    return of_range + _table_notes(result) + of_loss


def magnet_notes(result: MotorResult, magnets: Iterable[str]) -> tuple[list[str], list[str]]:
    """Return which magnets are outside their published ranges, and what is lost for good."""
    design = result.design
    found = {
        design.materials.magnet_of(name).range_note(design.temperature_of(name)) for name in magnets
    }
    return sorted(filter(None, found)), _loss_notes(result)


def magnet_degrees(design: Design) -> str:
    """Return the temperature of the magnets in words, of each where they differ."""
    names = [region.name for region in design.regions if region.role is Role.MAGNET]
    each = {n: f"{design.temperature_of(n) - ZERO_CELSIUS:.4g} degC" for n in names}
    if len(set(each.values())) == 1:
        return each[names[0]]
    return " and ".join(f"{text} ({name.replace('_', ' ')})" for name, text in each.items())


def _table_notes(result: MotorResult) -> list[str]:
    """Return which steel parts pass their tables, and what that leaves open."""
    if not result.beyond_tables:
        return []
    parts = "; ".join(part.words() for part in result.beyond_tables)
    open_ = result.material_uncertainty(lambda r: r.bl_curve.at_rest.value)
    if not math.isfinite(open_):
        return [parts]
    share = open_ / result.bl_curve.at_rest.value
    return [f"{parts}: that leaves {open_:.2g} T m ({100 * share:.2g} %) of Bl at rest open"]


def _loss_notes(result: MotorResult) -> list[str]:
    """Return what magnets have lost for good, or would if their remanence were not held."""
    degrees = magnet_degrees(result.design)
    past = [m for m in result.magnet_health if m.margin < 0]
    names = " and ".join(m.region.replace("_", " ") for m in past)
    if past and result.design.materials.demagnetisation == "ignored":
        return [
            f"{names} past the knee at {degrees}, but demagnetisation is ignored: a real "
            "motor has less Bl"
        ]
    loss = result.irreversible_loss
    if loss.value <= NOTED:
        return []
    rest = result.bl_curve.at_rest.value
    return [
        f"{100 * loss.value:.2g} % of Bl at rest is lost for good at {degrees}: "
        f"{rest:.4g} T m, {rest / (1 - loss.value):.4g} T m with all remanence held"
    ]
