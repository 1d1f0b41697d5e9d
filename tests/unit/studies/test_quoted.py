"""The figures in the answers of studies/README.md are those of recorded runs."""

from __future__ import annotations

import re

import pytest

from studies.quoted import (
    ANSWERS,
    LONGER,
    PAGE,
    QUICK,
    QUOTES,
    Quote,
    read_answer,
    recorded,
    renew,
    rewritten,
)

TEXT = PAGE.read_text(encoding="utf-8")
FIGURES = {name: entry["figures"] for name, entry in recorded().items()}


def plain(text: str) -> str:
    """Return a text with one space for each break."""
    return " ".join(text.split())


@pytest.mark.parametrize("quote", QUOTES, ids=lambda q: f"{q.study}: {q.words[:30]}")
def test_each_quoted_figure_is_the_recorded_one(quote: Quote) -> None:
    assert quote.text(FIGURES) in plain(TEXT)


@pytest.mark.parametrize("name", QUICK)
def test_a_fresh_run_gives_the_same_words(name: str) -> None:
    fresh = {name: QUICK[name]()}
    for quote in QUOTES:
        if quote.study == name:
            assert quote.text(fresh) == quote.text(FIGURES)


def test_no_answer_quotes_a_figure_that_no_run_gave() -> None:
    text = plain(TEXT)
    answers = re.findall(r"Answer: .*?(?= \*\*\d+\.| Each writes)", text)
    assert len(answers) == len(re.findall(r"\*\*\d+\.", text)) > 5
    left = " ".join(answers)
    for quote in QUOTES:
        left = left.replace(quote.text(FIGURES), "")
    left = re.sub(
        r"-40 to 120 degC|-40 degC|4 A|0\.4 mm on|1\.2 mm let|50 g tear", "", left
    )  # what was asked
    assert re.findall(r"\S*\d\S*", left.replace("Bl²/Re", "")) == []


def test_every_study_that_is_read_is_recorded_and_quoted() -> None:
    assert set(FIGURES) == {*QUICK, *LONGER, *ANSWERS} == {quote.study for quote in QUOTES}


def test_figures_are_read_off_an_answer() -> None:
    text = "a = 1\ngeometry.magnet_outer_diameter = 78.35 mm\n"
    assert read_answer("lightest_motor", text) == {"magnet": 78.35}
    with pytest.raises(ValueError, match="no sentence like"):
        read_answer("lightest_motor", "nothing")


def test_words_are_replaced_over_line_breaks() -> None:
    page = "so the woofer\nhas 6.12 T m at rest."
    assert rewritten(page, "has 6.12 T m", "has 6.13 T m") == "so the woofer\nhas 6.13 T m at rest."
    assert rewritten(page, "woofer has", "motor") == "so the motor 6.12 T m at rest."
    with pytest.raises(ValueError, match="does not say"):
        rewritten(page, "has 7 T m", "has 6 T m")


def test_a_new_run_rewrites_the_page_and_says_what_changed() -> None:
    new = {name: dict(figures) for name, figures in FIGURES.items()}
    new["lightest_motor"]["magnet"] += 10
    page, changed = renew(TEXT, FIGURES, new)
    assert len(changed) == 1
    wanted = f"with a {new['lightest_motor']['magnet']:.0f} mm magnet"
    assert wanted in plain(page)
    assert wanted not in plain(TEXT)
