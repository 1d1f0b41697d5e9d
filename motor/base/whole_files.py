"""Files and folders that appear complete or not at all."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from motor.base.csv_metadata import describe_tables
from motor.base.errors import OutputError

__all__ = ["folder_of", "whole_file", "write_text"]


@contextlib.contextmanager
def whole_file(path: str | Path) -> Iterator[Path]:
    """Write a file in one step: give a hidden path of the same name to write to.

    Raises
    ------
    OutputError
        If the file cannot be written; a file that was there before then stays as it was.
    """
    path = Path(path)
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".partial-") as work:
            hidden = Path(work) / path.name
            yield hidden
            hidden.replace(path)
    except OSError as cause:
        raise OutputError(f"{path} could not be written: {cause.strerror or cause}") from cause


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in one step; OutputError if it cannot be written."""
    with whole_file(path) as hidden:
        hidden.write_text(text, encoding="utf-8")


@contextlib.contextmanager
def folder_of(
    folder: str | Path, *, remarks: Mapping[str, str] | None = None
) -> Iterator[tuple[Path, list[Path]]]:
    """Fill a folder in one step: give a hidden folder to write to, move all files at the end.

    On failure nothing new stays behind.  The list that comes with it holds the files' final
    paths once the block has ended; files of the same names are replaced.  Tables get a
    description of their columns beside them (:mod:`motor.base.csv_metadata`), with ``remarks`` by
    file name.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    folder = Path(folder)
    work: Path | None = None
    written: list[Path] = []
    made_parents = [p for p in (folder, *folder.parents) if not p.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(dir=folder, prefix=".partial-"))
        yield work, written
        describe_tables(work, folder, remarks)
        names = sorted(p.name for p in work.iterdir())
        for name in names:
            if (folder / name).is_dir():
                raise OutputError(f"{folder / name} could not be written: it is a folder")
        for name in names:
            (work / name).replace(folder / name)
        written.extend(folder / name for name in names)
        made_parents = []
    except OSError as cause:
        raise OutputError(f"{folder} could not be written: {cause.strerror or cause}") from cause
    finally:
        if work is not None:
            shutil.rmtree(work, ignore_errors=True)
        for parent in made_parents:
            if parent.is_dir() and not any(parent.iterdir()):
                parent.rmdir()
