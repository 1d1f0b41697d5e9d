"""A designer's text in each medium."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from pathlib import Path

import pytest
from matplotlib.figure import Figure

import motor.report.figures as figures
from motor.base.media import csv_cell, plot_text, terminal_text, toml_text

NAMES = ("[/b]", "[/red] x", "[sealed] box", ":smile:", r"$\undefined$", "$x", "a\\$b$", "=1+1")


@pytest.mark.parametrize("text", ["\x1b[31mred", "a\x07", "a\x9b31m", "a\u202eb", "a\rb"])
def test_terminal_gets_no_codes(text: str) -> None:
    assert terminal_text(f"{text}\nnext").count("\n") == 1
    assert terminal_text(text).isprintable()


@pytest.mark.parametrize("name", NAMES)
def test_figure_shows_a_name_as_it_is(name: str) -> None:
    figure = Figure()
    title = figure.suptitle(plot_text(name))
    figure.canvas.draw()
    shown, is_formula = title._preprocess_math(title.get_text())  # type: ignore[attr-defined]
    assert (shown, is_formula) == (name, False)


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("+cmd|'/c x'!A1", "'+cmd|'/c x'!A1"),
        ("-a", "'-a"),
        (" =1", "'=1"),
        ("-1.5", "-1.5"),
        ("+3e-4", "+3e-4"),
        ("a\nx_mm,1\n", "a x_mm,1"),
        (-1.5, -1.5),
        (None, None),
        ("plain, with a comma", "plain, with a comma"),
    ],
)
def test_cell_is_no_formula_and_no_row(value: object, cell: object) -> None:
    assert csv_cell(value) == cell
    text = io.StringIO()
    csv.writer(text).writerow([csv_cell(value)])
    assert len(text.getvalue().splitlines()) == 1


@pytest.mark.parametrize("text", [*NAMES, 'quoted "a"', "\x7f\x00\n", "ü\u2028"])
def test_toml_reads_back(text: str) -> None:
    assert tomllib.loads(f"a = {toml_text(text)}") == {"a": text}


OWN_NAME = re.compile(r"\b(?:design|driver|history|clean|one|steel|magnet|asked)\.name\b")


def test_every_figure_passes_names_through_their_medium() -> None:
    """A figure that writes a designer's name says so by its medium's function on the same line."""
    found = [
        f"{path.name}: {line.strip()}"
        for path in sorted(Path(figures.__file__).parent.glob("*.py"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if OWN_NAME.search(line) and not re.search(r"plot_text\(|markup_line\(|name=result\.", line)
    ]
    assert not found
