"""Studies: many designs, kept in one file, from a question in a few lines.

::

    import motor
    from motor.study import Plan, run, span, study_table, tie, values

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    plan = Plan(
        design,
        (values("coil.winding_height", ["10 mm", "13 mm", "16 mm"]),
         span("geometry.gap_depth", 4e-3, 8e-3, 9)),
        (tie("geometry.top_plate_thickness", "geometry.gap_depth"),),
    )
    if __name__ == "__main__":      # the workers import this file
        run(plan, "study.sqlite")
        table = study_table("study.sqlite", plan)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.lazy import importer

if TYPE_CHECKING:
    from motor.study.evaluate import Measure
    from motor.study.pareto import pareto_front
    from motor.study.plan import Axis, Plan, hypercube, paired, span, values
    from motor.study.problem import Answer, Problem
    from motor.study.rules import tie
    from motor.study.running import StudyRun, run
    from motor.study.searching import search
    from motor.study.store import Store
    from motor.study.study_file import StudyFile, read_study
    from motor.study.study_table import StudyTable, study_table
    from motor.study.target import Target
    from motor.study.tolerance import Tolerance, read_scatter, share_inside, tolerance_plan

_HOME = {
    "motor.study.evaluate": ("Measure",),
    "motor.study.pareto": ("pareto_front",),
    "motor.study.plan": (
        "Axis",
        "Plan",
        "hypercube",
        "paired",
        "span",
        "values",
    ),
    "motor.study.rules": ("tie",),
    "motor.study.running": (
        "StudyRun",
        "run",
    ),
    "motor.study.problem": ("Answer", "Problem"),
    "motor.study.searching": ("search",),
    "motor.study.store": ("Store",),
    "motor.study.study_file": (
        "StudyFile",
        "read_study",
    ),
    "motor.study.study_table": (
        "StudyTable",
        "study_table",
    ),
    "motor.study.target": ("Target",),
    "motor.study.tolerance": (
        "Tolerance",
        "read_scatter",
        "share_inside",
        "tolerance_plan",
    ),
}

__all__ = [
    "Answer",
    "Axis",
    "Measure",
    "Plan",
    "Problem",
    "Store",
    "StudyFile",
    "StudyRun",
    "StudyTable",
    "Target",
    "Tolerance",
    "hypercube",
    "paired",
    "pareto_front",
    "read_scatter",
    "read_study",
    "run",
    "search",
    "share_inside",
    "span",
    "study_table",
    "tie",
    "tolerance_plan",
    "values",
]

__getattr__ = importer(__name__, _HOME)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
