"""Motors side by side as tables for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from motor.report.labels import named

if TYPE_CHECKING:
    from rich.table import Table

    from motor.study.motor_comparison import MotorComparison

__all__ = ["cells", "comparison_tables", "heads"]


def comparison_tables(found: MotorComparison) -> list[Table]:
    """Return what differs in the drawings, and the figures that differ, for a terminal."""
    tables = []
    for title, rows in groups(found):
        table = Table(title=Text(title), box=SIMPLE_HEAD, title_justify="left")
        for k, head in enumerate(heads(found)):
            table.add_column(Text(head), justify="left" if k < 2 else "right")
        for row in rows:
            table.add_row(*map(Text, cells(found, row)))
        tables.append(table)
    return tables


def groups(found: MotorComparison) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return the rows worth reading under their headings: those that are not equal in all."""
    figures = [row for row in found.figures() if any(_differences(found, row))]
    return [("Drawings and coils differ in", found.dimensions()), ("What follows", figures)]


def heads(found: MotorComparison) -> list[str]:
    """Return the columns' heads."""
    names = [f"{k}: {r.design.name}" for k, r in zip(found.letters, found.results, strict=True)]
    changes = [f"{k} less a" for k in found.letters[1:]]
    return ["", "unit", *names, *changes, "in %"][: 2 + 2 * len(names) - (len(names) > 2)]


def cells(found: MotorComparison, row: dict[str, Any]) -> list[str]:
    """Return a row as text, as many cells as there are heads."""
    what, unit = named(row["figure"])
    values = [_text(row[k]) for k in found.letters]
    changes = _differences(found, row)
    texts = ["" if c is None else f"{c:+.4g}" for c in changes]
    if row.get("certain") is False:
        texts = [f"{text} (within ±)" if text else text for text in texts]
    if len(found.letters) == 2:
        base, change = row["a"], changes[0]
        texts.append("" if not change or not base else _share(change, base))
    return [what, unit, *values, *texts]


def _differences(found: MotorComparison, row: dict[str, Any]) -> list[float | None]:
    keys = ["difference", *(f"difference_{k}" for k in found.letters[2:])]
    return [row[key] for key in keys]


def _share(change: float, base: float) -> str:
    """Return a change in per cent; nothing where the sign changes, of which no share tells."""
    return "" if change / base < -1 else f"{100 * change / abs(base):+.1f}"


def _text(value: Any) -> str:
    if value is None:
        return "none"
    return value if isinstance(value, str) else f"{value:.4g}"
