"""The lines of a design that a study changed: with the base design's they give the design."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motor.design.reading import design_from_toml
from motor.report.page import write_study_page
from motor.study.processes import Here
from motor.study.study_file import read_study

from .studies import TEXTS, Case


def test_lines_of_all_designs_are_held_where_they_are_few(any_case: Case) -> None:
    assert any_case.data["changes"]["only"] is None


def merged(base: str, lines: str) -> str:
    """Put changed lines into a design file, each in place of the line of the same key."""
    section, changed = "", {}
    for line in lines.splitlines():
        if line.startswith("["):
            section = line
        elif " = " in line and not line.startswith("#"):
            changed[section, line.partition(" = ")[0]] = line
    section, out = "", []
    for line in base.splitlines():
        section = line if line.startswith("[") else section
        out.append(changed.pop((section, line.partition(" = ")[0]), line))
        if line.startswith("["):
            new = [k for k in changed if k[0] == line and f"\n{k[1]} = " not in base]
            out.extend(changed.pop(key) for key in new)
    assert not changed
    return "\n".join(out) + "\n"


def lines_of(data: dict[str, Any], number: int) -> str:
    found = []
    for (section, _), texts, packed in zip(
        *(data["changes"][key] for key in ("keys", "lines", "choice")), strict=True
    ):
        k = np.frombuffer(base64.b64decode(packed), "<i2")[number]
        if k >= 0:
            found += [section, texts[k]]
    return "\n".join(found)


@pytest.mark.parametrize("kind", ["sweep", "target", "curves"])
def test_changed_lines_and_base_give_the_design(cases: dict[str, Case], kind: str) -> None:
    one = cases[kind]
    for number, design in enumerate(one.study.designs):
        if design is not None:
            text = merged(one.study.base_text, lines_of(one.data, number))
            assert design_from_toml(text) == design


def test_a_value_that_becomes_the_usual_one_is_written(folder: Path) -> None:
    source = folder / "usual.toml"
    off = TEXTS["curves"].partition("[[sweep]]")[0]
    source.write_text(
        f'{off}[[sweep]]\n"coil.travel_margin" = ["0 mm", "1 mm"]\n', encoding="utf-8"
    )
    written = write_study_page(read_study(source), folder / "usual.html", engine=Here())
    assert 'travel_margin = \\"0 mm\\"' in written.read_text(encoding="utf-8")
