"""The study file to start from: it runs as it is, and every example in it can be used."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from motor.design.starters import starter
from motor.design.writing import design_to_toml
from motor.study.rules import RULES
from motor.study.study_file import KEYS, read_study
from motor.study.study_starter import study_starter
from motor.study.target import GOALS

HERE = study_starter("my.toml")
EXAMPLE = re.compile(r'^# ((\[+[a-z.]+\]+|"?[a-z_.A-Z]+"? = ).*)$')
PARTS = {
    "target": ("free", "choices", "contour"),
    "tolerances": ("lots", "correlations", "limits"),
    "sweep": (),
}


def with_examples(kind: str) -> str:
    """Return the starter with one of sweep, target and tolerances, its examples switched on."""
    lines, table = [], ""
    for line in HERE.splitlines():
        found = EXAMPLE.match(line)
        text = found[1] if found else line
        if head := re.match(r"\[+([a-z]+)[\].]", text):
            table = head[1]
        other = {*PARTS, *(k for keys in PARTS.values() for k in keys)} - {kind, *PARTS[kind]}
        if table not in other:
            lines.append(text)
    return "\n".join(lines)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    design = design_to_toml(starter("outside-magnet"))
    (tmp_path / "my.toml").write_text(design, encoding="utf-8")
    return tmp_path


def test_it_is_read_as_it_is(folder: Path) -> None:
    (folder / "s.toml").write_text(HERE, encoding="utf-8")
    asked = read_study(folder / "s.toml")
    assert asked.plan is not None
    assert len(asked.plan) == 8


@pytest.mark.parametrize("kind", PARTS)
def test_every_example_in_it_can_be_used(kind: str, folder: Path) -> None:
    text = with_examples(kind)
    (folder / "s.toml").write_text(text, encoding="utf-8")
    asked = read_study(folder / "s.toml")
    assert (asked.problem is not None) is (kind == "target")
    assert bool(asked.production) is (kind == "tolerances")
    shared = {"name", "design", "rules", "ties", "measure"}
    assert set(tomllib.loads(text)) == shared | {kind, *PARTS[kind]}


def test_every_key_rule_and_goal_is_in_it() -> None:
    shown = {key for kind in PARTS for key in tomllib.loads(with_examples(kind))}
    assert shown == set(KEYS)
    assert all(name in HERE for name in (*RULES, *GOALS))
