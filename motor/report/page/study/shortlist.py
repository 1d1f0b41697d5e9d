"""The few designs that the page holds in full: section drawing and Bl(x)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.base.quantity import Quantity
from motor.design.design import Design
from motor.report.page.study.collect import MARGIN, OBJECTIVE, Studied
from motor.results.motor_field import solved_field
from motor.results.motor_result import read_off_other_coil
from motor.results.quantities import all_quantities
from motor.study.evaluate import job_of

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = [
    "ALIKE",
    "BASE",
    "Shortlisted",
    "goals_of",
    "shortlisted",
    "solved_shortlist",
]

BASE = -1
"""Number of the base design."""
MOST = 12
"""Designs held in full: each costs a solve and some ten kilobytes."""
ALIKE = 1e-9
"""Relative; values that differ less are equal but for rounding."""
EXTREMES = ("bl_at_rest_Tm", "usable_stroke_mm", "resonance_Hz")


@dataclass(frozen=True)
class Shortlisted:
    """A design in full.

    Parameters
    ----------
    number : int
        Row of the table; ``BASE`` for the base design.
    words : str
        Why it is here.
    result : MotorResult
    """

    number: int
    words: str
    result: MotorResult


def goals_of(study: Studied) -> list[tuple[Quantity[Any], int]]:
    """Return each figure in which the designs differ with the best design's number.

    Of several that are equal the one with most Bl²/Re.
    """
    found = []
    for goal in sorted((q for q in all_quantities() if q.best), key=lambda q: q.offered):
        if goal.key not in study.table.columns:
            continue
        values = study.table.array(goal.key)
        known = values[np.isfinite(values)]
        if known.size and np.ptp(known) > ALIKE * np.abs(known).max():
            best = np.nanmax(values) if goal.better == "more" else np.nanmin(values)
            alike = np.flatnonzero(np.abs(values - best) <= ALIKE * abs(best))
            force = study.table.array("motor_constant_N2_per_W")[alike]
            found.append((goal, int(alike[np.nanargmax(force)])))
    return found


def shortlisted(study: Studied) -> dict[int, str]:
    """Return the numbers of the designs on the shortlist, the best first, and why."""
    words: dict[int, list[str]] = {}
    table = study.table
    if study.asked.production:
        for key in EXTREMES:
            values = table.array(key) if key in table.columns else np.array([np.nan])
            if np.isfinite(values).any():
                what = {"bl_at_rest_Tm": "Bl", "resonance_Hz": "resonance"}.get(key, "stroke")
                words.setdefault(int(np.nanargmin(values)), []).append(f"least {what}")
                words.setdefault(int(np.nanargmax(values)), []).append(f"most {what}")
        first = {BASE: "nominal"}
        return first | {k: ", ".join(w) for k, w in list(words.items())[: MOST - 1]}
    if study.answer is not None:
        words[study.answer.tried.index(study.answer.best)] = [
            "the answer" if study.answer.feasible else "the nearest"
        ]
        order = np.lexsort((table.array(OBJECTIVE), table.array(MARGIN) < 0))
        solved = [int(i) for i in order if np.isfinite(table.array(OBJECTIVE)[i])]
    else:
        solved = [n for n in range(len(table)) if not table.column("error")[n]]
    for goal, number in goals_of(study):
        words.setdefault(number, []).append(goal.best)
    front = study.front
    room = MOST - 1 - len(words)
    steps = np.linspace(0, len(front) - 1, max(0, min(room, len(front)))).round()
    for place in steps:
        words.setdefault(front[int(place)], ["on the front"])
    for number in solved:
        if len(words) < MOST - 1:
            words.setdefault(number, [])
    named = {number: ", ".join(reasons) for number, reasons in words.items()}
    return named | {BASE: "base design"}


def solved_shortlist(study: Studied) -> list[Shortlisted]:
    """Solve the designs on the shortlist; those with a common field together."""
    wanted = shortlisted(study)
    designs = {n: study.asked.design if n == BASE else study.designs[n] for n in wanted}
    if study.base is None:
        designs.pop(BASE)
    groups: dict[str, list[int]] = {}
    for number, design in designs.items():
        if design is not None:
            groups.setdefault(job_of(design, study.measure).field, []).append(number)
    results: dict[int, MotorResult] = {}
    for numbers in groups.values():
        group: Sequence[Design] = [d for n in numbers if (d := designs[n]) is not None]
        field = solved_field(group[0])
        for number, design in zip(numbers, group, strict=True):
            results[number] = read_off_other_coil(design, field)
    return [Shortlisted(n, wanted[n], results[n]) for n in wanted if n in results]
