"""The options that all ready studies share, and how they end."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from motor.base.errors import InvalidInput, MotorError, OutputError
from motor.base.whole_files import asking, free_to_write
from motor.cli.command import BAD_INPUT, FAILED, STOPPED
from motor.cli.progress import progress_bar
from motor.report.style import THEMES, use
from motor.study.plan import Plan
from motor.study.processes import Engine
from motor.study.running import demand_all, run
from motor.study.study_table import StudyTable, study_table

__all__ = ["as_command", "read_options", "solved"]


ANSWER = "answer.txt"
_STACK = contextlib.ExitStack()
"""What holds until the study has ended."""


def as_command(main: Callable[[], None]) -> None:
    """Run a study; what goes wrong is one line on standard error and an exit code."""
    try:
        with _STACK:
            main()
    except (InvalidInput, MotorError) as error:
        print(f"error: {error}", file=sys.stderr)
        sys.exit(BAD_INPUT if isinstance(error, InvalidInput) else FAILED)
    except KeyboardInterrupt:
        print("\nstopped", file=sys.stderr)
        sys.exit(STOPPED)


def solved(plan: Plan, store: Path, engine: Engine, *, study: str, label: str = "") -> StudyTable:
    """Solve a plan and return its table; MachineError if the machine left designs out.

    Parameters
    ----------
    study : str
        Name that the store belongs to.
    label : str
        Beside the bar, if not the study's name.
    """
    with progress_bar(label or study) as move:
        done = run(plan, store, engine=engine, progress=move, study=study)
    demand_all(done.missing)
    return study_table(store, plan)


def read_options(
    name: str, doc: str | None, *, workers: bool = True, stores: Sequence[str] = ("study.sqlite",)
) -> argparse.Namespace:
    """Return the command line's options; set the theme of all figures and what may be replaced.

    The folder ``out`` is made, unless what is written there would replace another's files.

    Parameters
    ----------
    name : str
        Of the study, for its default folder.
    doc : str or None
        The study's docstring, whose first line says what it answers.
    workers : bool
        Whether it runs on several processes.
    stores : sequence of str
        Files that it adds to.
    """
    parser = argparse.ArgumentParser(
        prog=f"python -m studies.{name}", description=(doc or "").split("\n", 1)[0]
    )
    parser.add_argument("--out", type=Path, default=Path("out") / name, help="folder for all files")
    parser.add_argument("--theme", choices=THEMES, default="light", help="look of the figures")
    parser.add_argument("--force", action="store_true", help="replace files of others")
    if workers:
        parser.add_argument("--workers", type=int, help="processes; default all cores")
    options = parser.parse_args()
    use(options.theme)
    _STACK.enter_context(asking(force=options.force, source=f"python -m studies.{name}"))
    free_to_write(options.out, [ANSWER], kept=stores)
    try:
        options.out.mkdir(parents=True, exist_ok=True)
    except OSError as cause:
        raise OutputError(f"{options.out} could not be made: {cause.strerror}") from cause
    return options
