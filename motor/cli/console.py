"""What a command says: results on standard output, everything else on standard error."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

import click

from motor.base.media import terminal_text
from motor.base.steps import LOG

if TYPE_CHECKING:
    import rich.console

__all__ = ["Console"]

WIDTH = 118
"""Columns of tables that do not go to a terminal."""


def _rich_console(*, err: bool = False) -> rich.console.Console:
    """Return a console as wide as the terminal, without colour where NO_COLOR is set."""
    from rich.console import Console as Shown  # here for start-up time

    stream = sys.stderr if err else sys.stdout
    return Shown(
        stderr=err,
        width=None if stream.isatty() else WIDTH,
        highlight=False,
        markup=False,
        emoji=False,
        color_system=None if os.environ.get("NO_COLOR") else "auto",
    )


class _Steps(logging.Handler):
    """Show steps of a run: the present one beside a spinner, finished ones as lines."""

    def __init__(self, console: rich.console.Console, *, spinner: bool, lines: bool) -> None:
        super().__init__()
        self._console, self._lines = console, lines
        self._status = console.status("") if spinner else None

    def start(self) -> None:
        if self._status is not None:
            self._status.start()

    def stop(self) -> None:
        if self._status is not None:
            self._status.stop()

    def emit(self, record: logging.LogRecord) -> None:
        if record.levelno >= logging.INFO:
            if self._lines:
                self._console.print(terminal_text(record.getMessage()))
        elif self._status is not None:
            from rich.text import Text

            self._status.update(Text(terminal_text(record.getMessage())))


class Console:
    """How much a command says, and where.

    Used as a context: inside it the steps of the numerical core are shown on standard error,
    beside a spinner if that is a terminal, as lines with timings if ``verbose``.

    Parameters
    ----------
    quiet, verbose, as_json : bool
    """

    def __init__(
        self, *, quiet: bool = False, verbose: bool = False, as_json: bool = False
    ) -> None:
        self.quiet, self.verbose, self.as_json = quiet, verbose, as_json
        self._steps: _Steps | None = None

    def __enter__(self) -> Console:
        spinner = sys.stderr.isatty() and not self.quiet
        if spinner or self.verbose:
            self._steps = _Steps(_rich_console(err=True), spinner=spinner, lines=self.verbose)
            self._level = LOG.level
            LOG.addHandler(self._steps)
            LOG.setLevel(logging.DEBUG)
            self._steps.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end_steps()

    def _end_steps(self) -> None:
        if self._steps is not None:
            self._steps.stop()
            LOG.removeHandler(self._steps)
            LOG.setLevel(self._level)
            self._steps = None

    @contextlib.contextmanager
    def bar(self, label: str, what: str) -> Iterator[Callable[..., None]]:
        """Show how many of all are done; give the function that is told both numbers."""
        from motor.cli.progress import progress_bar

        self._end_steps()
        began = time.perf_counter()
        with progress_bar(label, shown=not (self.quiet or self.verbose)) as move:

            def tell(done: int, total: int | None = None) -> None:
                move(done, total)
                if self.verbose:
                    share = "" if total is None else f" of {total}"
                    seconds = time.perf_counter() - began
                    self.note(f"{label}: {done}{share} {what}, {seconds:.2f} s")

            yield tell

    def note(self, text: str) -> None:
        """Say something that is not a result, on standard error, unless quiet."""
        if not self.quiet:
            click.echo(terminal_text(text), err=True)

    def finish(
        self,
        shown: Callable[[], Sequence[Any]],
        *,
        record: Callable[[], Mapping[str, Any]] | None = None,
        caution: str = "",
        warnings: Sequence[str] = (),
        written: Sequence[Path] = (),
    ) -> None:
        """Print what came of a command, once, at its end.

        Parameters
        ----------
        shown : callable
            Gives texts and tables for the reader.
        record : callable or None
            Gives the same for scripts, with a ``name``: that of the design, study or material.  It
            opens with program and version, as every JSON file does.
        caution : str
            Printed after the tables.
        warnings : sequence of str
            On standard error whatever is asked for.
        written : sequence of Path
            Files: their paths are all that ``quiet`` prints, if there are any.
        """
        self._end_steps()
        for warning in warnings:
            click.echo(terminal_text(f"warning: {warning}"), err=True)
        if self.as_json:
            assert record is not None
            from motor.base.program import origin

            found = origin() | dict(record())
            click.echo(json.dumps(found, indent=2, allow_nan=False))
            if written:
                self.note("written: " + "\n         ".join(map(str, written)))
            return
        if self.quiet and written:
            click.echo("\n".join(map(str, written)))
            return
        console = _rich_console()
        for item in shown():
            words = isinstance(item, str)
            console.print(terminal_text(item) if words else item, soft_wrap=words)
        if self.quiet:
            return
        if caution:
            console.print(caution)
        if written:
            click.echo("written: " + "\n         ".join(map(str, written)))
