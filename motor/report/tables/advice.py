"""Tables of what to change, for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from motor.base.media import terminal_text
from motor.report.labels import named
from motor.report.tables.rows import titled

if TYPE_CHECKING:
    from rich.table import Table

    from motor.study.advice import Advice, Moved, Proposal, Step

__all__ = ["advice_tables"]

MOST, LEANING = 8, 3
"""Single changes, and dimensions that make Bl(x) lean, that are told."""
COLUMNS = (
    ("Bl %", "bl_at_rest_Tm"),
    ("stroke %", "usable_stroke_mm"),
    ("Bl²/Re %", "motor_constant_N2_per_W"),
    ("mass %", "motor_mass_g"),
    ("cost %", "total_cost"),
)


def advice_tables(found: Advice) -> list[Any]:
    """Return tables of single changes and of the joint one, and sentences."""
    tables: list[Any] = []
    if found.singles:
        tables.append(_singles(found))
    else:
        tables.append(f"{found.name}: no single dimension reaches {found.goals[0].sentence}")
    if found.joint is not None:
        tables += [_joint(found.joint, found), *_steps(found.joint.steps)]
    return [*tables, *_leaning(found)]


def _singles(found: Advice) -> Table:
    table = titled(f"{found.name}: one change for {found.goals[0].sentence}")
    table.add_column("change")
    table.add_column("from", justify="right")
    table.add_column("to", justify="right")
    for head, _ in COLUMNS:
        table.add_column(head, justify="right")
    table.add_column("but")
    for one in found.singles[:MOST]:
        moved = {m.figure: m for m in one.moved}
        step = one.steps[0]
        table.add_row(
            _words(step.parameter),
            f"{step.before:.6g}",
            f"{step.after:.6g}",
            *(_percent(moved.get(key)) for _, key in COLUMNS),
            one.remark,
        )
    return table


def _joint(one: Proposal, found: Advice) -> Table:
    times = "once" if found.solves == 1 else f"{found.solves} times"
    table = titled(f"the least joint change, solved {times} on its way")
    for head in ("figure", "now", "predicted", "solved", "±", "unit"):
        table.add_column(head, justify="left" if head in ("figure", "unit") else "right")
    for m in one.moved:
        words, unit = named(m.figure)
        if m.figure not in {g.figure for g in found.goals} and m.now == m.solved:
            continue
        doubt = "" if not m.solved_uncertainty > 0 else f"{m.solved_uncertainty:.1g}"
        predicted = "" if m.predicted != m.predicted else f"{m.predicted:.4g}"
        table.add_row(words, f"{m.now:.4g}", predicted, f"{m.solved:.4g}", doubt, unit)
    return table


def _steps(steps: tuple[Step, ...]) -> list[str]:
    said = [
        f"change {_words(s.parameter)} from {s.before:.6g} to {s.after:.6g} {s.unit}" for s in steps
    ]
    return [terminal_text(line) for line in said]


def _leaning(found: Advice) -> list[str]:
    """Return in words which dimensions make Bl(x) lean, and which way."""
    now = found.now["bl_asymmetry_at_82_percent"]
    said = []
    if now is not None:
        side = "outwards" if now > 0 else "inwards"
        said.append(f"Bl(x) leans {side}: {100 * abs(now):.2g} % higher there at the 82 % stroke")
    for parameter, slope, doubt in found.leaning()[:LEANING]:
        side = "outwards" if slope > 0 else "inwards"
        said.append(
            f"a {_words(parameter)} larger by 0.1 mm leans it {side} by {10 * abs(slope):.2g} % "
            f"(± {10 * doubt:.1g})"
        )
    return said


def _words(parameter: str) -> str:
    names = [part.rpartition(".")[2].replace("_", " ") for part in parameter.split(" + ")]
    return " and ".join(names)


def _percent(moved: Moved | None) -> str:
    if moved is None or not moved.now or moved.predicted != moved.predicted:
        return ""
    change = 100 * (moved.predicted / moved.now - 1)
    return f"{change:+.2g}" if abs(change) >= 0.005 else ""
