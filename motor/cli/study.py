"""The command ``motor study``: run a study file, write tables and figures."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from motor.base.cautions import MOTOR
from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console
from motor.cli.progress import TIME_LIMIT, engine_of, tls_of

if TYPE_CHECKING:
    from motor.study.processes import Engine
    from motor.study.produced import Produced
    from motor.study.study_file import StudyFile

__all__ = ["study"]

STORE = "study.sqlite"
FIGURES = ("bl_at_rest_Tm", "usable_stroke_mm", "resonance_Hz")
"""What a tolerance study looks at."""


@command(
    "A sweep, a target to be met, or tolerances",
    examples=(
        ("motor study my_study.toml --out results", "on all cores; finished designs are kept"),
        ("motor study my_study.toml --out results --workers 1", "leave the other cores alone"),
        (
            "motor study my_study.toml --out results --scheduler tcp://host:8786",
            "on several machines (extra: cluster); tls:// with the three --tls options",
        ),
    ),
    writes="study.sqlite with every design, answer.txt; results.csv, results.json and overview "
    "as PNG and SVG, or for a target requirements as PNG and SVG and the folder best/ with all "
    "files of its motor.",
    targets=True,
    results=True,
    figures=True,
    stopped="finished designs are kept: run the same command again to go on",
)
@click.argument("file", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for all files.")
@click.option("--workers", type=int, help="Processes; default all cores.")
@click.option("--scheduler", help='Dask cluster: "local" or an address such as tcp://host:8786.')
@click.option("--tls-ca", type=click.Path(path_type=Path), help="Certificate of your authority.")
@click.option("--tls-cert", type=click.Path(path_type=Path), help="Certificate for the cluster.")
@click.option("--tls-key", type=click.Path(path_type=Path), help="Key of that certificate.")
@click.option(
    "--time-limit",
    type=click.FloatRange(min=0, min_open=True),
    default=TIME_LIMIT,
    show_default=True,
    help="Seconds for a design; its process is ended then, and the next run tries it again.",
)
@click.option(
    "--most-designs",
    type=click.IntRange(min=1),
    default=100_000,
    show_default=True,
    help="A study of more designs ends with their count before it starts.",
)
@click.option("--retry-failed", is_flag=True, help="Try designs again that failed before.")
@click.option("--repair", is_flag=True, help="Solve again what is damaged in the store.")
@click.option("--figures/--no-figures", default=True, help="Draw PNG and SVG figures.")
def study(
    console: Console,
    file: Path,
    out: Path,
    workers: int | None,
    scheduler: str | None,
    tls_ca: Path | None,
    tls_cert: Path | None,
    tls_key: Path | None,
    time_limit: float,
    most_designs: int,
    retry_failed: bool,
    repair: bool,
    figures: bool,
) -> None:
    """Run a study FILE: a sweep, a target to be met, or tolerances.

    Every finished design is kept in OUT/study.sqlite: stop it at any moment and start it again.
    """
    from motor.base.errors import InvalidInput, OutOfReach, OutputError, SolveError
    from motor.base.whole_files import free_to_write
    from motor.study.running import demand_all
    from motor.study.study_file import read_study

    asked = read_study(file, most_designs=most_designs)
    if scheduler is not None and asked.design.geometry.code_file:
        wanted = "be left out: a design whose geometry is a file of code is solved on this machine"
        raise InvalidInput("--scheduler", wanted, scheduler)
    tls = tls_of(scheduler, tls_ca, tls_cert, tls_key)
    goals = ("answer.txt", "results.csv", "results.json", "overview.png", "requirements.png")
    free_to_write(out, goals, kept=[STORE])
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as cause:
        raise OutputError(f"{out} could not be made: {cause.strerror}") from cause
    if repair:
        _repair(console, out / STORE)
    with engine_of(workers, scheduler, time_limit, tls, console.note) as engine:
        if asked.problem is not None:
            text, record = _target(console, asked, out, engine, figures)
        else:
            text, record = _plan(console, asked, out, engine, retry_failed, figures)
    console.finish(lambda: [text], record=lambda: record, caution=MOTOR, written=[out])
    demand_all(record.get("missing", {}))
    if not record.get("feasible", True):
        raise OutOfReach("the target is out of reach of the free values; the nearest motor is kept")
    if "points" in record and record["without_result"] == record["points"]:
        raise SolveError(f"no design of the study gave a result; see {out / 'results.csv'}")


def _repair(console: Console, store: Path) -> None:
    """Keep what is whole in a store."""
    from motor.study.store import repair

    kept, copy = repair(store)
    console.note(f"{kept} designs of {store} are whole; the damaged file is kept as {copy}")


Answered = tuple[str, dict[str, Any]]
"""The answer in words, and for scripts."""


def _plan(
    console: Console, asked: StudyFile, out: Path, engine: Engine, retry_failed: bool, figures: bool
) -> Answered:
    """Run a sweep or a tolerance study."""
    from motor.base.whole_files import folder_of
    from motor.report.figures.study import overview, production_sheet
    from motor.report.files.folder import save_figure
    from motor.report.tables.production import production_lines, production_record
    from motor.results.quantities import column_words
    from motor.study.parameters import Draft
    from motor.study.running import run
    from motor.study.study_table import study_table

    assert asked.plan is not None
    store = out / STORE
    with console.bar(asked.name, "designs") as move:
        done = run(
            asked.plan,
            store,
            measure=asked.measure,
            engine=engine,
            progress=move,
            retry_failed=retry_failed,
            study=asked.name,
        )
    table = study_table(store, asked.plan, asked.measure)
    errors = [r for r in table.records() if r["error"]]
    lines = [
        f"{asked.name}: {done.points} points, {done.solved} designs solved and {done.reused} "
        f"reused in {done.seconds:.1f} s; {len(errors)} without a result"
    ]
    lines += [f"- point {r['number']}: {r['error']}" for r in errors[:5]]
    lines += [f"- and {len(errors) - 5} more, see results.csv"] if len(errors) > 5 else []
    picture: Any = None
    record: dict[str, Any] = {
        "name": asked.name,
        "points": done.points,
        "solved": done.solved,
        "reused": done.reused,
        "without_result": len(errors),
        "missing": dict(done.missing),
        "results": table.records(),
    }
    if asked.production and len(errors) < len(table):
        made = _produced(asked, table)
        lines += production_lines(made)
        record |= production_record(made)
        if figures and made.sampled:
            picture = production_sheet(table, made.sampled[:3], asked.limits, made, asked.stations)
    elif len(errors) < len(table):
        lines += _best(asked, table)
    if figures and not asked.production and len(errors) < len(table):
        base = Draft(asked.plan.base)
        picture = overview(
            table,
            [p.column for p in asked.plan.parameters],
            {p.column: p.shown(base.get(p.name)) for p in asked.plan.parameters},
        )
    with folder_of(out, columns=column_words(asked.design.regions)) as (work, _):
        table.save(work / "results")
        if picture is not None:
            save_figure(picture, work / "overview")
        (work / "answer.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return "\n".join(lines), record


def _best(asked: StudyFile, table: Any) -> list[str]:
    """Return which designs of a sweep are best in what, in words."""
    from motor.report.page.study.collect import Studied
    from motor.report.page.study.sentences import answer_lines

    assert asked.plan is not None
    return answer_lines(Studied(asked, tuple(asked.plan.parameters), table, (), None, ""))


def _produced(asked: StudyFile, table: Any) -> Produced:
    """Return distributions, yield and tests of a tolerance study, by derivatives too."""
    import numpy as np

    from motor.study.produced import produced
    from motor.study.tolerance import read_scatter

    assert asked.production is not None
    names = dict.fromkeys([*FIGURES, *asked.limits])
    known = [n for n in names if n in table.columns and np.isfinite(table.array(n)).any()]
    return produced(asked, table, [read_scatter(table, asked.production, n) for n in known])


def _target(
    console: Console, asked: StudyFile, out: Path, engine: Engine, figures: bool
) -> Answered:
    """Search the motor for a target."""
    from motor.base.json_numbers import finite
    from motor.base.whole_files import folder_of
    from motor.report.files.folder import save, save_figure
    from motor.report.style import blank
    from motor.results.motor_result import solve
    from motor.study.multipliers import multipliers
    from motor.study.parameters import parameter_named
    from motor.study.reshaped import Reshaped, foretold
    from motor.study.searching import search
    from motor.study.target import price_caution

    assert asked.problem is not None
    with console.bar(asked.name, "designs") as move:
        answer = search(asked.problem, out / STORE, engine=engine, progress=move, study=asked.name)
    way = f"without derivatives, since {answer.without}" if answer.without else "by derivatives"
    looked = f"{answer.trials} designs were looked at, {way}."
    lines = [answer.sentence(), looked, "The motor:"]
    values = {}
    for name, value in answer.best.values.items():
        parameter = parameter_named(asked.design, name)
        values[parameter.column] = parameter.shown(value)
        lines.append(f"- {name} = {parameter.text(value)}")
    lines += [f"- {r.sentence()}" for r in answer.best.requirements]
    costs = multipliers(asked.problem, answer.best)
    lines += [f"- {words}" for words in costs.sentences()] if costs else []
    caution = price_caution(asked.problem.target, asked.design)
    lines += [f"Warning: {caution}."] if caution else []
    assert answer.best.design is not None
    best, shaped = solve(answer.best.design), None
    if asked.problem.contours:
        before = foretold(asked.problem, answer.best.values)
        shaped = Reshaped(asked.problem.contours, solve(asked.design), best, before)
        lines += ["The contour:", *(f"- {words}" for words in shaped.sentences())]
    with folder_of(out) as (work, _):
        save(best, work / "best", pictures=figures)
        if figures:
            axes = answer.plot(blank((7.5, 1.4 + 0.45 * len(answer.best.requirements))))
            save_figure(axes.figure, work / "requirements")  # type: ignore[arg-type]
            if shaped is not None:
                save_figure(shaped.plot(), work / "contour")
        (work / "answer.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return "\n".join(lines), {
        "name": asked.name,
        "feasible": answer.feasible,
        "binding": list(answer.binding),
        "multipliers": [dataclasses.asdict(row) for row in costs.rows] if costs else [],
        "multipliers_of": "largest_miss" if costs and costs.missed else "objective",
        "unexplained": costs.unexplained if costs else None,
        "trials": answer.trials,
        "without_derivatives": answer.without or None,
        "warnings": [caution] if caution else [],
        "values": values,
        "requirements": [
            {
                "name": r.name,
                "limit": r.limit,
                "value": finite(r.value),
                "unit": r.unit,
                "kind": "least" if r.least else "most",
            }
            for r in answer.best.requirements
        ],
        "contour": [] if shaped is None else shaped.rows(),
        "motor": best.summary(),
    }
