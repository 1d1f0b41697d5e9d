"""What the scripts of a study's page need: all results, maps, changes, a few designs in full."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from contourpy import contour_generator
from matplotlib.ticker import MaxNLocator
from numpy.typing import ArrayLike

from motor.report.figures.study import grid_of
from motor.report.page.study.changes import Changes, changes_of
from motor.report.page.study.collect import FRONT, Studied
from motor.report.page.study.columns import Column, hovered
from motor.report.page.study.shortlist import BASE, Shortlisted
from motor.report.page.study.spread import spread_data
from motor.report.style import style
from motor.results.usable_stroke import LIMIT_NAMES
from motor.study.parameters import OF_MATERIALS
from motor.study.produced import Produced

__all__ = ["axes_of", "map_axes", "packed", "study_data", "within_room"]

ROOM = 3_000_000
"""Bytes that the results and changed lines of all designs may take."""
LINES = 1_200_000
"""Bytes that the changed lines of all designs may take; beyond that the best ones have theirs."""
SCATTER = OF_MATERIALS
"""Varied without a line of a design file; a stiffness has one."""
LEVELS = 7
THIN = 2
"""Every so many samples of Bl(x) are kept."""


def packed(values: ArrayLike, kind: str = "<f8") -> str:
    """Return numbers as base64 of their bytes; the page reads them back exactly."""
    return base64.b64encode(np.ascontiguousarray(values, kind).tobytes()).decode("ascii")


def study_data(
    study: Studied,
    columns: Sequence[Column],
    full: Sequence[Shortlisted],
    found: Produced | None,
) -> dict[str, Any]:
    """Return everything the page's scripts work with, ready for JSON."""
    keys = [column.key for column in columns]
    errors = study.table.column("error")
    reasons = list(dict.fromkeys(e for e in errors if e))
    front = study.front
    changes, only = _changes(study, {*front, *(item.number for item in full)})
    shown = within_room(study, columns, ROOM - _size_of(changes))
    return {
        "count": len(study.table),
        "noun": "motor" if study.asked.production else "design",
        "base": len(study.table) if study.base is not None else None,
        "columns": [_column(study, column) for column in shown],
        "left_out": len(columns) - len(shown),
        "hover": [key for key in hovered() if key in keys],
        "failed": {"words": reasons, "index": [reasons.index(e) if e else -1 for e in errors]},
        "changes": {
            "keys": changes.keys,
            "lines": changes.lines,
            "choice": [packed(choice, "<i2") for choice in changes.choice],
            "only": only,
        },
        "factors": [[p.name, p.column] for p in study.parameters if p.name in SCATTER],
        "front": {"keys": [key for key, _ in FRONT], "members": front},
        "map": _map(study, shown),
        "curves": curve_groups(study),
        "shortlist": [_entry(item) for item in full],
        "fills": style().fills,
        "spread": spread_data(study, found),
    }


def _changes(study: Studied, best: set[int]) -> tuple[Changes, list[int] | None]:
    """Return the changed lines, of the best designs only where all would be too heavy."""
    materials = not any(p.name in SCATTER for p in study.parameters)
    base = study.asked.design
    changes = changes_of(base, study.designs, materials=materials)
    if _size_of(changes) <= LINES:
        return changes, None
    few = [design if n in best else None for n, design in enumerate(study.designs)]
    only = [n for n, design in enumerate(few) if design is not None]
    return changes_of(base, few, materials=materials), only


def _size_of(changes: Changes) -> int:
    """Return about how many bytes the changed lines take in the page."""
    lines = sum(len(line.encode()) + 3 for texts in changes.lines for line in texts)
    return lines + sum(len(choice) * 8 // 3 for choice in changes.choice)


def within_room(study: Studied, columns: Sequence[Column], room: int) -> list[Column]:
    """Leave out what matters least where so many designs would make the page too heavy."""
    kept = []
    order = {"varied": 0, "result": 1, "spread": 2, "force": 3, "other": 4}
    for column in sorted(columns, key=lambda c: order[c.group]):
        size = len(study.table) * 11 if column.varies else 20
        if size <= room or column.group == "varied":
            room -= size
            kept.append(column)
    return [column for column in columns if column in kept]


def _column(study: Studied, column: Column) -> dict[str, Any]:
    record: dict[str, Any] = {
        "key": column.key,
        "what": column.what,
        "unit": column.unit,
        "group": column.group,
        "less": column.less,
        "varies": column.varies and not column.text,
        "spread": column.spread,
    }
    values = [*study.table.column(column.key), _base_value(study, column)]
    if column.text:
        limit = column.key.endswith("limited_by")
        words = list(dict.fromkeys(v for v in values if v is not None))
        index = [-1 if v is None else words.index(v) for v in values]
        shown = [LIMIT_NAMES.get(word, word) for word in words] if limit else words
        return record | {"words": shown, "index": packed(index, "<i2")}
    numbers = np.array([math.nan if v is None else v for v in values], float)
    if not np.isnan(numbers).any() and (numbers == numbers[0]).all():
        return record | {"same": float(numbers[0])}
    return record | {"numbers": packed(numbers)}


def _base_value(study: Studied, column: Column) -> Any:
    for parameter in study.parameters:
        if parameter.column == column.key:
            return study.base_value(parameter)
    return None if study.base is None else study.base.get(column.key)


def axes_of(study: Studied) -> tuple[list[str], list[str]]:
    """Return the varied columns that hold numbers, and those that hold words."""
    columns = [p.column for p in study.parameters]
    words = [c for c in columns if any(isinstance(v, str) for v in study.table.column(c))]
    return [c for c in columns if c not in words], words


def map_axes(study: Studied) -> tuple[str, str] | None:
    """Return the two columns over which the designs form a grid, or None."""
    numeric, words = axes_of(study)
    if len(numeric) != 2 or words or study.asked.plan is None or study.asked.production:
        return None
    across, up = (np.unique(study.table.array(c)) for c in numeric)
    full = min(len(across), len(up)) > 1 and len(across) * len(up) == len(study.table)
    return (numeric[0], numeric[1]) if full else None


def curve_groups(study: Studied) -> list[dict[str, Any]] | None:
    """Return the designs along one varied parameter, by the words of another; None if not so."""
    numeric, words = axes_of(study)
    if len(numeric) != 1 or len(words) > 1 or study.asked.plan is None or study.asked.production:
        return None
    across = study.table.array(numeric[0])
    names = study.table.column(words[0]) if words else [""] * len(study.table)
    if len(set(names)) > 6:
        return None
    groups = []
    for name in dict.fromkeys(names):
        members = [n for n, other in enumerate(names) if other == name]
        groups.append({"name": name, "members": sorted(members, key=lambda n: across[n])})
    return groups


def _map(study: Studied, columns: Sequence[Column]) -> dict[str, Any] | None:
    """Return the grid of designs and for each result its lines of equal value."""
    axes = map_axes(study)
    if axes is None:
        return None
    x, y = axes
    across, up, numbers = grid_of(study.table, x, y, "number")
    lines = {}
    for column in columns:
        if column.group == "result" and column.varies:
            lines[column.key] = _contours(across, up, grid_of(study.table, x, y, column.key)[2])
    return {
        "x": x,
        "y": y,
        "across": across.tolist(),
        "up": up.tolist(),
        "cells": np.nan_to_num(numbers, nan=-1).astype(int).tolist(),
        "lines": lines,
    }


def _contours(across: Any, up: Any, values: Any) -> list[dict[str, Any]]:
    low, high = np.nanmin(values), np.nanmax(values)
    generator = contour_generator(across, up, np.ma.masked_invalid(values))
    found = []
    for level in MaxNLocator(LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high):
        pieces = [piece for piece in generator.lines(float(level)) if len(piece) > 1]
        if low < level < high and pieces:
            found.append(
                {
                    "level": float(f"{level:.9g}"),
                    "lines": [[[float(f"{v:.6g}") for v in axis] for axis in p.T] for p in pieces],
                }
            )
    return found


def _entry(item: Shortlisted) -> dict[str, Any]:
    design, curve = item.result.design, item.result.bl_curve
    spread = np.nan_to_num(curve.uncertainty)
    parts = [
        (region.name.replace("_", " "), region.role.name.lower(), region.outline)
        for region in design.regions
    ] + [(name, "coil", outline) for name, outline in design.coil.outlines(drawn=True)]
    return {
        "number": item.number,
        "words": item.words,
        "parts": [
            [name, role, [[round(1e3 * r, 3), round(1e3 * z, 3)] for r, z in outline]]
            for name, role, outline in parts
        ],
        "x": packed(curve.x[::THIN] * 1e3),
        "bl": packed(curve.bl[::THIN]),
        "spread": packed(spread[::THIN], "<f4"),
        "base": item.number == BASE,
    }
