"""``motor report`` for a study file."""

from __future__ import annotations

import os
from pathlib import Path

from motor.base.errors import InvalidInput, OutputError
from motor.base.user_files import read_text, read_toml
from motor.cli.progress import TIME_LIMIT

__all__ = ["is_study", "report_study"]

STORE = "study.sqlite"


def is_study(path: Path) -> bool:
    """Say whether a file is a study by what it holds; False if it cannot be read."""
    try:
        data = read_toml(path, "file")
    except InvalidInput:
        return False
    asks = {"sweep", "target", "tolerances"} & data.keys()
    return bool(asks) or ("design" in data and "geometry" not in data)


def report_study(
    path: Path,
    out: Path,
    results: Path | None = None,
    *,
    shown: bool = True,
    time_limit: float = TIME_LIMIT,
) -> Path:
    """Run what is left of a study file and write its page.

    Parameters
    ----------
    path, out : Path
        Study file and HTML file.
    results : Path or None
        Folder that ``motor study`` wrote; what is solved there is not solved again.
    shown : bool
        Whether a terminal shows how far it is.
    time_limit : float
        Seconds for a design.

    Raises
    ------
    InvalidInput, OutputError, SolveError
    """
    from motor.cli.progress import engine_of, progress_bar
    from motor.report.page.study.page import write_study_page
    from motor.study.study_file import read_study

    asked = read_study(path)
    store = None if results is None else results / STORE
    if store is not None and not store.is_file():
        raise InvalidInput("--results", f"hold {STORE}, as motor study writes it", str(results))
    if not os.access(out.parent, os.W_OK):
        raise OutputError(f"{out} could not be written: no permission in {out.parent}")
    text = read_text(path, "study file")
    engines = engine_of(time_limit=time_limit)
    with engines as engine, progress_bar(asked.name, shown=shown) as move:
        return write_study_page(asked, out, store=store, text=text, engine=engine, progress=move)
