"""What comes of asking what to change: goals, single changes, the least joint one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from motor.base.drawable import DrawablePage
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.design.design import Design
from motor.study.derivatives import Derivatives
from motor.study.goals import Goal

__all__ = ["Advice", "Moved", "Proposal", "Step"]


@dataclass(frozen=True)
class Step:
    """A parameter's value before and after, in its unit (mm; turns of a layer)."""

    parameter: str
    before: float
    after: float
    unit: str


@dataclass(frozen=True)
class Moved:
    """A figure now, as predicted with its numerical uncertainty, and as solved (nan if not)."""

    figure: str
    now: float
    predicted: float
    uncertainty: float
    solved: float = math.nan
    solved_uncertainty: float = math.nan


@dataclass(frozen=True)
class Proposal:
    """A change and what it does.

    Parameters
    ----------
    steps : tuple of Step
    moved : tuple of Moved
        Goals first.
    size : float
        Sum of the relative changes.
    remark : str
        What speaks against it; "" for nothing.
    """

    steps: tuple[Step, ...]
    moved: tuple[Moved, ...]
    size: float
    remark: str = ""


@dataclass(frozen=True)
class Advice(DrawablePage):
    """What to change for some goals.

    Parameters
    ----------
    name : str
        The design's.
    goals : tuple of Goal
    singles : tuple of Proposal
        Single dimensions that reach the first goal, the smallest change first.
    joint : Proposal or None
        The smallest joint change that reaches all goals and holds the coil's clearance, or comes
        as near as the largest changes allow.
    reason : str
        Why there is none, or what it misses.
    solves : int
        How often the joint change was solved on its way.
    design : Design or None
        The joint change as a design.
    slopes : Derivatives
    """

    name: str
    goals: tuple[Goal, ...]
    singles: tuple[Proposal, ...]
    joint: Proposal | None
    reason: str
    design: Design | None
    slopes: Derivatives
    now: Mapping[str, float | None]
    solves: int = 0

    def leaning(self) -> list[tuple[str, float, float]]:
        """Return what makes Bl(x) lean: parameter, change of the asymmetry per mm, uncertainty.

        Positive where a larger dimension makes Bl higher outwards; strongest first.
        """
        rows = [
            (row.parameter, row.derivative, row.uncertainty)
            for row in self.slopes.rows
            if row.figure == "bl_asymmetry_at_82_percent"
            and row.unit == "1/mm"
            and abs(row.derivative) > row.uncertainty
        ]
        return sorted(rows, key=lambda row: -abs(row[1]))

    def rows(self) -> list[dict[str, Any]]:
        """Return one record per figure of every proposal."""
        proposals = [*self.singles, *([self.joint] if self.joint else [])]
        return [
            {
                "proposal": "joint" if one is self.joint else one.steps[0].parameter,
                "steps": "; ".join(
                    f"{s.parameter} {s.before:.6g} to {s.after:.6g} {s.unit}" for s in one.steps
                ),
                "remark": one.remark,
                "figure": m.figure,
                "now": m.now,
                "predicted": finite(m.predicted),
                "uncertainty": finite(m.uncertainty),
                "solved": finite(m.solved),
                "solved_uncertainty": finite(m.solved_uncertainty),
            }
            for one in proposals
            for m in one.moved
        ]

    def summary(self) -> dict[str, Any]:
        """Return the record that ``motor change --json`` prints."""
        return {
            **origin(),
            "name": self.name,
            "goals": [g.sentence for g in self.goals],
            "joint_change": None
            if self.joint is None
            else [
                {"parameter": s.parameter, "before": s.before, "after": s.after, "unit": s.unit}
                for s in self.joint.steps
            ],
            "reason": self.reason,
            "solves": self.solves,
            "leaning": [
                {"parameter": p, "asymmetry_per_mm": slope, "uncertainty": doubt}
                for p, slope, doubt in self.leaning()
            ],
            "rows": self.rows(),
        }
