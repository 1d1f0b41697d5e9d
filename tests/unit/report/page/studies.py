"""Small studies whose pages are tested: quick to solve, every kind of page once."""

from __future__ import annotations

import contextlib
import dataclasses
import sqlite3
from pathlib import Path
from typing import Any

from motor.report.page.study.collect import Studied, studied
from motor.report.page.study.page import study_page
from motor.study.processes import Here
from motor.study.study_file import StudyFile, read_study

DESIGNS = Path(__file__).parents[4] / "studies" / "designs"
FERRITE = f'design = "{DESIGNS / "door_woofer_ferrite.toml"}"\n'
TIES = '[ties]\n"geometry.top_plate_thickness" = "geometry.gap_depth"\n'

TEXTS = {
    "sweep": 'name = "heights and depths"\n'
    + FERRITE
    + 'rules = ["keep_resistance"]\n'
    + TIES
    + """
[[sweep]]
"coil.winding_height" = ["10 mm", "13 mm", "16 mm", "70 mm"]
[[sweep]]
"geometry.gap_depth" = { from = "5 mm", to = "7 mm", steps = 3 }
""",
    "target": 'name = "lightest coil that reaches far"\n'
    + FERRITE
    + """
[target]
bl_least = "5.9 T*m"
stroke_least = "3.2 mm"
minimise = "mass"
[free]
"coil.winding_height" = { from = "9 mm", to = "18 mm" }
""",
    "tolerances": 'name = "coil tolerances"\n'
    + FERRITE
    + """
[tolerances]
power = 5
"coil.rest_position" = { width = "0.3 mm", shape = "normal" }
"coil.winding_height" = "0.2 mm"
"factors.stiffness" = { width = 0.13, shape = "normal" }
[limits]
bl_at_rest_Tm = { least = 6.1, most = 6.14 }
stroke_82_mm = { least = 4.0 }
""",
    "curves": 'name = "height and wire"\n'
    + FERRITE
    + """
[[sweep]]
"coil.winding_height" = ["10 mm", "12 mm", "14 mm"]
[[sweep]]
"coil.wire.size" = ["0.224 mm", "0.25 mm"]
""",
}
KINDS = list(TEXTS)


@dataclasses.dataclass(frozen=True)
class Case:
    """A study, its results and its page."""

    kind: str
    text: str
    asked: StudyFile
    study: Studied
    data: dict[str, Any]
    path: Path


def case(kind: str, folder: Path, store: Path) -> Case:
    """Run a study, or take from its store what another process has solved; write its page.

    The folder gets a copy of the store as it is now.
    """
    source = folder / f"{kind}.toml"
    source.write_text(TEXTS[kind], encoding="utf-8")
    asked = read_study(source)
    study = studied(asked, store, engine=Here(), evaluations=8)
    with (
        contextlib.closing(sqlite3.connect(store)) as solved,
        contextlib.closing(sqlite3.connect(folder / f"{kind}.sqlite")) as own,
    ):
        solved.backup(own)
    page = study_page(study, TEXTS[kind])
    path = folder / f"{kind}.html"
    path.write_text(page.text(), encoding="utf-8")
    return Case(kind, TEXTS[kind], asked, study, dict(page.data["study-data"]), path)
