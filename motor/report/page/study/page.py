"""The page of a study."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from motor.base.program import stamp
from motor.base.whole_files import write_text
from motor.report.page.assembling import Page, today
from motor.report.page.study import grids, plots, sentences
from motor.report.page.study.collect import OBJECTIVE, Studied, studied
from motor.report.page.study.columns import Column, columns_of
from motor.report.page.study.data import axes_of, curve_groups, map_axes, study_data
from motor.report.page.study.plots import compared
from motor.report.page.study.shortlist import shortlisted, solved_shortlist
from motor.report.page.study.spread import produced_of, scatters_of

if TYPE_CHECKING:
    from motor.report.page.theme import Plot
    from motor.study.processes import Engine
    from motor.study.study_file import StudyFile

__all__ = ["study_page", "write_study_page"]

SCRIPTS = (
    "figures.js",
    "study.js",
    "study_map.js",
    "study_front.js",
    "study_compare.js",
    "study_spread.js",
    "study_start.js",
    "copy.js",
)
DEFAULT = "usable_stroke_mm"


def study_page(study: Studied, text: str = "") -> Page:
    """Collect the figures, tables and data of a study's page.

    Parameters
    ----------
    study : Studied
    text : str
        The study file, "" if the study was written in Python.
    """
    columns = columns_of(study)
    full = solved_shortlist(study)
    found = produced_of(study)
    figures = _figures(study, columns)
    noun = "motor" if study.asked.production else "design"
    sections = [("answer", "Answer"), ("varied", "What was varied")]
    sections += [("map", "Map")] if "map" in figures else []
    sections += [("curves", "Curves")] if "curves" in figures else []
    sections += [("spread", "Spread")] if "spread" in figures else []
    sections += [("pair", f"All {noun}s")] if "pair" in figures else []
    sections += [("front", "Pareto front")] if "front" in figures else []
    sections += [("one", f"One {noun}"), ("compare", "Side by side")]
    sections += [("cautions", "Cautions"), ("files", "Files")]
    choices = [c for c in columns if c.group == "result" and c.varies and not c.text]
    axes = [c for c in columns if c.group in ("varied", "result") and c.varies and not c.text]
    bound = [(h.number, _held_words(h.number, h.words, noun)) for h in full]
    return Page(
        template="study.html",
        title=study.asked.name,
        title_block=(
            ("kind of study", sentences.kind_of(study)),
            ("base design", study.asked.design.name),
            ("date", today()),
            ("program", stamp()),
        ),
        sections=tuple(sections),
        plots=figures,
        scripts=SCRIPTS,
        styles=("page.css", "study.css"),
        data={"study-data": study_data(study, columns, full, found)},
        context={
            "notes": study.asked.design.notes,
            "noun": noun,
            "count": len(study.table),
            "key_figures": sentences.key_figures(study),
            "answer": [*sentences.answer_lines(study), *sentences.beside_lines(found)],
            "requirements": grids.requirements(study),
            "varied": grids.varied(study, columns),
            "failures": grids.failures(study),
            "choices": choices,
            "axes": axes,
            "chosen_result": _first(choices, DEFAULT),
            "chosen_pair": _pair(study, axes),
            "front_pair": _front_pair(choices),
            "shortlist": bound,
            "compared": compared(),
            "first_four": _first_four([n for n, _ in bound]),
            "shown_first": next((n for n in shortlisted(study) if n >= 0), 0),
            "spread_choices": _spread_choices(study, columns),
            "spread_words": sentences.spread_words(study),
            "study_text": text,
            "base_text": study.base_text,
        },
    )


def _held_words(number: int, why: str, noun: str) -> str:
    if number < 0:
        return why
    return f"{noun} {number}: {why}" if why else f"{noun} {number}"


def _figures(study: Studied, columns: Sequence[Column]) -> dict[str, Plot]:
    """Return the figures that this study has."""
    label = {column.key: column.label for column in columns}
    count = len(study.table)
    made: dict[str, Plot] = {}
    axes, groups = map_axes(study), curve_groups(study)
    solved = sum(1 for error in study.table.column("error") if not error)
    if not solved:
        return made
    if axes is not None:
        made["map"] = plots.map_plot(label[axes[0]], label[axes[1]], count)
    elif groups is not None:
        numeric, _ = axes_of(study)
        made["curves"] = plots.curves_plot(label[numeric[0]], [g["name"] for g in groups])
    else:
        made["pair"] = plots.pair_plot(count)
    if study.asked.production:
        if scatters_of(study):
            made["spread"] = plots.histogram_plot()
    elif sum(c.group == "result" and c.varies and not c.text for c in columns) > 1:
        made["front"] = plots.front_plot(count)
    made["compare"] = plots.compare_plot()
    return made


def _first(choices: Sequence[Column], wanted: str) -> str:
    keys = [c.key for c in choices]
    return wanted if wanted in keys or not keys else keys[0]


def _pair(study: Studied, axes: Sequence[Column]) -> tuple[str, str, str]:
    """Return the columns that the pair of axes and the colour start with."""
    varied = [c.key for c in axes if c.group == "varied"]
    results = [c.key for c in axes if c.group == "result"]
    if not axes:
        return "", "", ""
    result = _first([c for c in axes if c.group == "result"] or axes, DEFAULT)
    if study.asked.production or len(varied) < 2:
        x = varied[0] if varied else results[-1]
        cause = scatters_of(study).get(result) if study.asked.production else None
        if cause is not None:
            strongest = max(cause.shares, key=lambda name: cause.shares[name])
            assert study.asked.production is not None
            first = study.asked.production.members(strongest)[0]
            x = next(p.column for p in study.parameters if p.name == first)
        return x, result, ""
    return varied[0], varied[1], OBJECTIVE if OBJECTIVE in results else result


def _front_pair(choices: Sequence[Column]) -> tuple[str, str]:
    keys = [c.key for c in choices]
    if len(keys) < 2:
        return "", ""
    first = _first(choices, DEFAULT)
    rest = [c for c in choices if c.key != first]
    return first, _first(rest, "motor_constant_N2_per_W")


def _first_four(numbers: Sequence[int]) -> list[int | None]:
    """Return the best three and the base design, as far as there are so many."""
    best = [n for n in numbers if n >= 0][:3]
    base = [n for n in numbers if n < 0]
    four: list[int | None] = [*best, *base] if numbers and numbers[0] >= 0 else [*base, *best]
    return (four + [None] * 4)[:4]


def _spread_choices(study: Studied, columns: Sequence[Column]) -> list[tuple[str, str]]:
    label = {column.key: column.label for column in columns}
    if not study.asked.production:
        return []
    return [(key, label[key]) for key in scatters_of(study)]


def write_study_page(
    asked: StudyFile,
    path: str | Path,
    *,
    store: str | Path | None = None,
    text: str = "",
    engine: Engine | None = None,
    progress: Callable[..., None] | None = None,
    **options: Any,
) -> Path:
    """Run what is left of a study and write its page.

    Parameters
    ----------
    asked : StudyFile
        As :func:`motor.study.study_file.read_study` gives it, or made in Python.
    path : path
        HTML file.
    store : path or None
        The study's SQLite file: what it holds already is not solved again.  None for a store
        that is thrown away.
    text : str
        The study file's text, to be shown for copying.
    engine : Engine or None
        None for processes on this machine.
    progress : callable or None
        As in :func:`motor.study.running.run`.
    **options
        ``evaluations`` of a target search.

    Raises
    ------
    InvalidInput, SolveError
    OutputError
        If store or page cannot be written.
    """
    with TemporaryDirectory() as folder:
        kept = Path(folder) / "study.sqlite" if store is None else store
        study = studied(asked, kept, engine=engine, progress=progress, **options)
    write_text(path, study_page(study, text).text())
    return Path(path)
