"""What a result says in words: ranges that are left, tables that are passed, Bl that is lost."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from motor.base.constants import ZERO_CELSIUS

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["notes_of"]

NOTED = 5e-4
"""Share of Bl lost for good from which on a result says so in words."""


def notes_of(result: MotorResult, magnets: Iterable[str]) -> list[str]:
    """Return warnings about published ranges that a motor leaves, and about losses.

    ``magnets`` are the names of its magnet regions.
    """
    design = result.design
    grades = {design.materials.magnet_of(name) for name in magnets}
    found = (grade.range_note(design.temperature) for grade in grades)
    return sorted(filter(None, found)) + _table_notes(result) + _loss_notes(result)


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
    degrees = f"{result.design.temperature - ZERO_CELSIUS:.4g} degC"
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
