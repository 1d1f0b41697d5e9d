"""Tables of measurements: CSV whose heads carry units, read into SI with place-true errors."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.base.units import parse_quantity
from motor.base.user_files import numbered_rows, read_text

__all__ = ["MOST_ROWS", "read_columns"]

MOST_ROWS = 5000
SPELLINGS = {"Tm": "T*m", "T m": "T*m", "N_per_A": "N/A", "Ohm": "ohm", "°": "deg"}
"""Units as heads of columns write them, and as quantities do."""
BRACKETS = re.compile(r"(.*?)\s*[\[(]\s*([^\])]*?)\s*[\])]")


def read_columns(
    path: Path, roles: Sequence[tuple[Mapping[str, str], bool]], heads: Mapping[str, str]
) -> dict[str, Floats]:
    """Read columns of a table and return them in SI, each (n,).

    Parameters
    ----------
    path : path
        Comma, semicolon or tab between cells; lines that begin with ``#`` are left out.  A head is
        a name and a unit, ``x_mm``, ``x (mm)`` or ``x [mm]``.
    roles : sequence of (mapping of role to kind of quantity, whether needed)
        Groups of columns that are there together or not at all.
    heads : mapping of role to head
        Where a head's name is not the role.

    Raises
    ------
    InvalidInput
        With line and column.
    """
    what = f"table {path.name}"
    rows = numbered_rows(read_text(path, what), what)
    first = next(rows, None)
    if first is None:
        raise InvalidInput(what, "have a head and rows", "nothing")
    places: dict[str, tuple[int, float]] = {}
    for kinds, needed in roles:
        found = {role: _place(first[1], role, kinds[role], heads, what) for role in kinds}
        missing = [role for role, place in found.items() if place is None]
        if missing and (needed or len(missing) < len(kinds)):
            raise InvalidInput(
                f"{what}, line {first[0]}",
                f"have a column {missing[0]} with its unit, or name it under columns",
                ", ".join(first[1]),
            )
        places |= {role: place for role, place in found.items() if place is not None}
    values: list[list[float]] = []
    for line, cells in rows:
        if len(values) == MOST_ROWS:
            raise InvalidInput(what, f"have at most {MOST_ROWS} rows", "more")
        where = f"{what}, line {line}"
        if any(cells[len(first[1]) :]):
            limit = f"hold {len(first[1])} cells as its head does (numbers with a decimal point)"
            raise InvalidInput(where, limit, len(cells))
        values.append([_number(cells, k, first[1][k], where) for k, _ in places.values()])
    if not values:
        raise InvalidInput(what, "have rows below its head", "none")
    scales = np.array([scale for _, scale in places.values()])
    return dict(zip(places, (np.array(values) * scales).T, strict=True))


def _place(
    names: Sequence[str], role: str, kind: str, heads: Mapping[str, str], what: str
) -> tuple[int, float] | None:
    """Return a role's column and the SI value of its unit; None if there is no such column."""
    if role in heads:
        if heads[role] not in names:
            raise InvalidInput(what, f"have the column {heads[role]!r}", ", ".join(names))
        k = names.index(heads[role])
        scale = next((s for _, s in _splits(names[k], kind)), None)
        if scale is None:
            shape = f"carry a unit of {kind.replace('_', ' ')} in its head, such as 'x (mm)'"
            raise InvalidInput(f"{what}, column {k + 1}", shape, repr(names[k]))
        return k, scale
    for k, head in enumerate(names):
        for name, scale in _splits(head, kind):
            if name.lower() == role:
                return k, scale
    return None


def _splits(head: str, kind: str) -> list[tuple[str, float]]:
    """Return every reading of a head as a name and a unit of a kind of quantity, in SI."""
    bracket = BRACKETS.fullmatch(head)
    words = head.split("_")
    pairs = [("_".join(words[:k]), "_".join(words[k:])) for k in range(1, len(words))]
    if bracket:
        pairs = [(bracket[1], bracket[2])]
    found = []
    for name, unit in pairs:
        text = SPELLINGS.get(unit, unit.replace("_per_", "/"))
        try:
            found.append((name.strip(), parse_quantity(f"1 {text}", kind, head)))
        except InvalidInput:
            continue
    return found


def _number(cells: Sequence[str], k: int, head: str, where: str) -> float:
    place = f"{where}, column {k + 1} ({head})"
    if k >= len(cells):
        raise InvalidInput(place, "hold a number", f"a row of {len(cells)} cells")
    try:
        value = float(cells[k])
    except ValueError:
        raise InvalidInput(place, "hold a number", repr(cells[k][:20])) from None
    if not math.isfinite(value):
        raise InvalidInput(place, "hold a finite number", cells[k][:20])
    return value
