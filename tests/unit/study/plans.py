"""Small plans that several tests run."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import motor
from motor.study.plan import Plan, span, values
from motor.study.rules import tie

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
PLATE = tie("geometry.top_plate_thickness", "geometry.gap_depth")


def ferrite() -> motor.Design:
    return motor.read_design(DESIGNS / "door_woofer_ferrite.toml")


def neodymium() -> motor.Design:
    return motor.read_design(DESIGNS / "door_woofer_neodymium.toml")


def small_plan(depths: int = 3, heights: int = 4) -> Plan:
    """Return a grid of which the last winding height does not fit into the motor."""
    tall = [12e-3 + 1e-3 * k for k in range(heights - 1)] + [80e-3]
    return Plan(
        ferrite(),
        (span("geometry.gap_depth", 4e-3, 6e-3, depths), values("coil.winding_height", tall)),
        (PLATE,),
    )


def without_time(rows: list[Any]) -> list[tuple[Any, ...]]:
    """Return what is known of each point."""
    return [(row.number, row.values, row.results, row.error) for row in rows]
