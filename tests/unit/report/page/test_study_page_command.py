"""The command that writes the page of a study, and what it refuses."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import tomllib
from pathlib import Path

import pytest

from motor.cli.report_study import is_study
from tests.unit.cli.running import ran

from .reading import held_in_page
from .studies import TEXTS, Case


def solved_at(store: Path) -> list[tuple[str, str]]:
    with contextlib.closing(sqlite3.connect(store)) as base:
        return base.execute("SELECT fingerprint, finished FROM designs ORDER BY 1").fetchall()


def test_command_knows_a_study_and_solves_nothing_again(
    cases: dict[str, Case], folder: Path
) -> None:
    results = folder / "results"
    results.mkdir()
    shutil.copy(folder / "tolerances.sqlite", results / "study.sqlite")
    before = solved_at(results / "study.sqlite")
    out = folder / "from_results.html"
    done = ran("report", folder / "tolerances.toml", "--out", out, "--results", results)
    assert done.exit_code == 0, done.output
    assert held_in_page(out) == held_in_page(cases["tolerances"].path)
    assert solved_at(results / "study.sqlite") == before
    assert len(before) == len(cases["tolerances"].study.table) + 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--accuracy", "0.1%"], "--accuracy must be left out for a study"),
        (["--results", "nowhere"], "--results must hold study.sqlite"),
    ],
)
def test_options_that_do_not_fit_are_refused(
    cases: dict[str, Case], folder: Path, arguments: list[str], words: str
) -> None:
    del cases
    done = ran("report", folder / "sweep.toml", "--out", folder / "no.html", *arguments)
    assert done.exit_code == 2
    assert words in done.output
    assert not (folder / "no.html").exists()


def test_results_belong_to_a_study(folder: Path) -> None:
    design = Path(tomllib.loads(TEXTS["sweep"])["design"])
    done = ran("report", design, "--out", folder / "no.html", "--results", folder)
    assert done.exit_code == 2
    assert "--results must come with a study file" in done.output


def test_kind_of_file_is_told_by_what_it_holds(folder: Path, cases: dict[str, Case]) -> None:
    assert all(is_study(folder / f"{kind}.toml") for kind in cases)
    assert not is_study(Path(tomllib.loads(TEXTS["sweep"])["design"]))
    assert not is_study(folder / "not there.toml")
    (folder / "broken.toml").write_text("sweep = [", encoding="utf-8")
    assert not is_study(folder / "broken.toml")
