"""Files and folders that appear complete or not at all, and never in place of somebody else's.

Everything is written beside its goal into a hidden folder ``.partial-*`` and moved at the end.
What was there before is kept until all is moved, and put back if that fails.  What a killed
program leaves behind is finished or cleaned up by the next one that writes into the same folder.

A small file :data:`MANIFEST` in each folder names the files that this program wrote there, each
with a checksum and the input that it came from.  Only these are replaced, and only while they are
as they were written: a file that was edited since is the user's.  All else needs :func:`asking`
with ``force``.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import socket
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from motor.base.csv_metadata import METADATA, Columns, describe_tables
from motor.base.errors import OutputError
from motor.base.program import NAME, origin

__all__ = [
    "MANIFEST",
    "asking",
    "folder_of",
    "free_to_write",
    "is_forced",
    "new_text",
    "own_file",
    "whole_file",
    "write_text",
]

MANIFEST = ".written.json"
"""In every folder: which files this program wrote there."""
PARTIAL = ".partial-"
NEW, OLD, OWNER, MOVING = "new", "old", "owner.json", "moving"
"""In the hidden folder: what is new, what was there, who writes, and that moving has begun."""
STALE = 86400.0
"""Seconds after which what another machine left behind counts as left."""
SHARED = (METADATA, MANIFEST)
"""Files that are about all inputs of a folder."""


@dataclass(frozen=True)
class _Asked:
    """What whoever writes has asked for: to replace anything, from which input, what to keep."""

    force: bool = False
    source: str = ""
    inputs: tuple[Path, ...] = ()


_ASKED: ContextVar[_Asked] = ContextVar("asked", default=_Asked())  # noqa: B039 - frozen


@contextlib.contextmanager
def asking(*, force: bool = False, source: str = "", inputs: Iterable[Path] = ()) -> Iterator[None]:
    """Say, for all that is written within, what may be replaced.

    Parameters
    ----------
    force : bool
        True to replace any regular file.
    source : str
        What the files come from; files from another source are not replaced.  A path of a
        regular file is noted relative to the folder that is written to.
    inputs : iterable of Path
        Files that are read, and never replaced.
    """
    token = _ASKED.set(_Asked(force, source, tuple(_real(p) for p in inputs)))
    try:
        yield
    finally:
        _ASKED.reset(token)


def is_forced() -> bool:
    """Return whether whoever writes has asked to replace anything."""
    return _ASKED.get().force


@contextlib.contextmanager
def whole_file(path: str | Path) -> Iterator[Path]:
    """Write a file in one step, whatever was there: give a hidden path of the same name.

    Raises
    ------
    OutputError
        If the file cannot be written, or is no regular file or a file that is being read; what
        was there before then stays as it was.
    """
    path = _real(Path(path))
    refused = _never(path)
    if refused:
        raise OutputError(f"{path} could not be written: {refused}")
    with _staged(path.parent, path) as stage:
        yield stage / path.name


@contextlib.contextmanager
def own_file(path: str | Path) -> Iterator[Path]:
    """Write a file in one step unless it would replace one that this program did not write.

    Raises
    ------
    OutputError
        As :func:`whole_file`, and if another's file is there.
    """
    path = _real(Path(path))
    free_to_write(path.parent, [path.name])
    with _staged(path.parent, path) as stage:
        yield stage / path.name
        free_to_write(path.parent, [path.name])
        _add_manifest(stage, path.parent)


def write_text(path: str | Path, text: str) -> None:
    """Write a text file as :func:`own_file` does."""
    with own_file(path) as hidden:
        hidden.write_text(text, encoding="utf-8")


def new_text(path: str | Path, text: str) -> None:
    """Write a text file for the user to edit: it replaces nothing unless forced."""
    if os.path.lexists(path) and not _ASKED.get().force:
        raise OutputError(f"{path} exists already; use --force to replace it")
    with whole_file(path) as hidden:
        hidden.write_text(text, encoding="utf-8")


@contextlib.contextmanager
def folder_of(
    folder: str | Path,
    *,
    remarks: Mapping[str, str] | None = None,
    columns: Columns | None = None,
) -> Iterator[tuple[Path, list[Path]]]:
    """Fill a folder in one step: give a hidden folder to write to, move all files at the end.

    Folders inside it come along, each with its manifest.

    On failure all stays as it was.  The list that comes with it holds the files' final paths once
    the block has ended.  Tables get a description of their columns beside them
    (:mod:`motor.base.csv_metadata`), with ``remarks`` by file name
    and what ``columns`` hold by their name.

    Raises
    ------
    OutputError
        If the folder cannot be written, or holds a file of the same name that this program did
        not write, or that was changed since, or that comes from another input.
    """
    folder = Path(folder)
    written: list[Path] = []
    with _staged(folder) as stage:
        yield stage, written
        names: list[Path] = []
        for part in (stage, *sorted(p for p in stage.rglob("*") if p.is_dir())):
            place = folder / part.relative_to(stage)
            described = place if not _refusals(place, [METADATA]) else part
            describe_tables(part, described, remarks, columns)
            own = sorted(p.name for p in part.iterdir() if p.is_file() and p.name != MANIFEST)
            free_to_write(place, own)
            _add_manifest(part, place)
            names += [place / name for name in own]
    written.extend(names)


def free_to_write(folder: str | Path, names: Iterable[str], kept: Iterable[str] = ()) -> None:
    """Raise OutputError if one of these files may not be written into a folder.

    Files that are ``kept`` and added to may be there, whoever wrote them, if they are files.
    """
    folder = Path(folder)
    wrong = _refusals(folder, names)
    wrong |= {name: why for name in kept if (why := _never(_real(folder / name)))}
    if wrong:
        name, why = next(iter(wrong.items()))
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        raise OutputError(f"{folder / name} could not be written: {why}{more}; nothing was written")


def _refusals(folder: Path, names: Iterable[str]) -> dict[str, str]:
    """Return why files may not be written, by name."""
    asked, known = _ASKED.get(), _manifest(folder)
    found = {}
    for name in names:
        path, entry = folder / name, known.get(name)
        if not (path.exists() or path.is_symlink()):
            continue
        why = _never(_real(path))
        if not why and not asked.force:
            source = _source(folder)
            if path.is_symlink() or entry is None:
                why = "it is there already and was not written by this program"
            elif entry.get("sha256") != _checksum(path):
                why = "it was changed since this program wrote it"
            elif name not in SHARED and source and entry.get("from") not in ("", source):
                why = f"it belongs to {entry.get('from')}"
            why = f"{why}; use --force to replace it, or another name" if why else ""
        if why:
            found[name] = why
    return found


def _never(path: Path) -> str:
    """Return why a path may be written by no means; '' if it may."""
    if path.is_dir():
        return "it is a folder"
    if path.exists() and not path.is_file():
        return "it is no regular file"
    if path in _ASKED.get().inputs:
        return "it is the input"
    return ""


def _source(folder: Path) -> str:
    """Return the source as a manifest in a folder names it."""
    source = _ASKED.get().source
    if not source or not Path(source).is_file():
        return source
    try:
        return Path(os.path.relpath(_real(Path(source)), _real(folder))).as_posix()
    except ValueError:  # another drive
        return Path(source).name


def _manifest(folder: Path) -> dict[str, dict[str, Any]]:
    """Return what this program wrote into a folder; nothing if there is no manifest of its own."""
    try:
        record = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        files = record["files"] if record["program"] == NAME else {}
        return {str(name): dict(entry) for name, entry in files.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _add_manifest(stage: Path, folder: Path) -> None:
    """Write the manifest that names what is about to be moved beside what was there."""
    place = folder / MANIFEST
    kept = {name: entry for name, entry in _manifest(folder).items() if (folder / name).is_file()}
    if place.exists() and not kept and not _ASKED.get().force and not _is_manifest(place):
        raise OutputError(f"{place} could not be written: it is not of this program; use --force")
    source = _source(folder)
    new = {
        p.name: {"sha256": _checksum(p), "from": "" if p.name in SHARED else source}
        for p in stage.iterdir()
        if p.is_file() and p.name != MANIFEST
    }
    record = origin() | {"files": dict(sorted((kept | new).items()))}
    (stage / MANIFEST).write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


def _is_manifest(place: Path) -> bool:
    try:
        return bool(json.loads(place.read_text(encoding="utf-8"))["program"] == NAME)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return False


def _checksum(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _real(path: Path) -> Path:
    """Return the path that a link leads to."""
    return path.resolve()


@contextlib.contextmanager
def _staged(folder: Path, file: Path | None = None) -> Iterator[Path]:
    """Give a hidden folder; move its files into the folder at the end, or leave all as it was.

    The folder is made if it is not there, unless a single ``file`` is to be written.
    """
    made_parents = [p for p in (folder, *folder.parents) if not p.exists()]
    work: Path | None = None
    try:
        if file is None:
            folder.mkdir(parents=True, exist_ok=True)
        _clean_up(folder)
        work = Path(tempfile.mkdtemp(dir=folder, prefix=f"{PARTIAL}{os.getpid()}-"))
        (work / OWNER).write_text(json.dumps({"host": socket.gethostname(), "pid": os.getpid()}))
        (work / NEW).mkdir()
        yield work / NEW
        _move(work, folder)
        made_parents = []
    except OSError as cause:
        goal = file or folder
        raise OutputError(f"{goal} could not be written: {cause.strerror or cause}") from cause
    finally:
        if work is not None:
            shutil.rmtree(work, ignore_errors=True)
        for parent in made_parents:
            if parent.is_dir() and not any(parent.iterdir()):
                parent.rmdir()


def _move(work: Path, folder: Path) -> None:
    """Move all new files into a folder; put the old ones back if one of them cannot be moved."""
    (work / OLD).mkdir()
    (work / MOVING).touch()
    moved: list[Path] = []
    made: list[Path] = []
    try:
        for name in _files(work / NEW):
            made += [p for p in (folder / name).parents if not p.exists()]
            for parent in (folder / name).parent, (work / OLD / name).parent:
                parent.mkdir(parents=True, exist_ok=True)
            if os.path.lexists(folder / name):
                (folder / name).replace(work / OLD / name)
            moved.append(name)
            (work / NEW / name).replace(folder / name)
    except BaseException:
        for name in moved:
            (folder / name).unlink(missing_ok=True)
            if os.path.lexists(work / OLD / name):
                (work / OLD / name).replace(folder / name)
        for parent in made:
            with contextlib.suppress(OSError):
                parent.rmdir()
        raise


def _files(folder: Path) -> list[Path]:
    """Return the paths of all files in a folder and below, relative to it."""
    return sorted(p.relative_to(folder) for p in folder.rglob("*") if not p.is_dir())


def _clean_up(folder: Path) -> None:
    """Finish or remove what a program that was killed left in a folder."""
    for work in folder.glob(f"{PARTIAL}*"):
        if not work.is_dir() or _is_alive(work):
            continue
        if (work / MOVING).exists() and (work / NEW).is_dir():
            for name in _files(work / NEW):
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (work / NEW / name).replace(folder / name)
        shutil.rmtree(work, ignore_errors=True)


def _is_alive(work: Path) -> bool:
    """Return whether the program that writes into a hidden folder may still run."""
    try:
        owner = json.loads((work / OWNER).read_text(encoding="utf-8"))
        host, pid = owner["host"], int(owner["pid"])
    except (OSError, ValueError, KeyError, TypeError):  # not there yet, or killed before: its name
        number = work.name.removeprefix(PARTIAL).partition("-")[0]
        host, pid = socket.gethostname(), int(number) if number.isdecimal() else 0
    with contextlib.suppress(OSError):
        if host != socket.gethostname() or os.name != "posix" or pid < 1:
            return time.time() - work.stat().st_mtime < STALE
        os.kill(pid, 0)
        return True
    return False
