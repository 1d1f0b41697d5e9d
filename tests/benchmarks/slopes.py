"""Derivatives of all figures by twenty parameters, beside a plain solve, and their memory."""

from __future__ import annotations

from pathlib import Path

import motor
from motor.study.derivatives import every_parameter
from motor.study.neighbours import PRICE, RINGS
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import resident, taking_turns

__all__ = ["slopes"]

DESIGNS = ("door_woofer_ferrite", "home_bass_long_stroke")
FOLDER = Path(__file__).parents[2] / "studies" / "designs"
COUNT, AGAIN = 20, 20
"""Parameters, the motor's dimensions first; and how often they are asked for to see memory."""


def slopes() -> Table:
    """Return the time of all derivatives over that of a plain solve."""
    rows = []
    for name in DESIGNS:
        design = motor.read_design(FOLDER / f"{name}.toml")
        result = motor.solve(design)
        moving = [
            n for n in every_parameter(design) if n.startswith("geometry.") and RINGS not in n
        ]
        moving = [n for n in moving if n not in motor.derivatives(result, moving).refused]
        rest = [n for n in every_parameter(design) if not n.startswith(("geometry.", PRICE))]
        names = (moving + rest)[:COUNT]

        def all_slopes() -> object:
            return motor.derivatives(result, names)  # noqa: B023  called in this round

        def plain() -> object:
            return motor.solve(design)  # noqa: B023

        (_, alone), (_, together) = taking_turns([plain, all_slopes])
        before = resident()
        for _ in range(AGAIN):
            all_slopes()
        rows.append(
            (
                name.replace("_", " "),
                f"{min(len(moving), COUNT)} of {len(names)}",
                str(alone),
                str(together),
                f"{together.least / alone.least:.1f}",
                f"{resident() - before:+.1f}",
            )
        )
    columns = (
        "motor",
        "parameters that move the mesh",
        "plain solve",
        "all derivatives",
        "plain solves, least times",
        f"memory after {AGAIN} more, MB",
    )
    return Table(f"Derivatives of every figure by {COUNT} parameters", columns, tuple(rows))


if __name__ == "__main__":
    print(slopes().markdown())
