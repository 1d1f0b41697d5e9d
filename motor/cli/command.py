"""What all commands share: help with examples, common options, errors, exit codes."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from motor.base.media import terminal_text
from motor.cli.console import Console
from motor.report.themes import THEMES, theme

__all__ = ["BAD_INPUT", "FAILED", "STOPPED", "Command", "command"]

FAILED, BAD_INPUT, OUT_OF_REACH, STOPPED = 1, 2, 3, 130
EXIT_CODES = (
    ("0", "done"),
    ("1", "mesh, solution or output failed"),
    ("2", "input cannot be used"),
    ("130", "stopped with Ctrl-C"),
)
UNREACHED = ("3", "a study's target is out of reach; the nearest motor is written")
"""What only a command that looks for a target can end with."""
WRITTEN = ("out", "path", "plot")
"""Parameters of commands that name what is written; other paths are read."""
Example = tuple[str, str]
"""A command line, and what it is good for."""


class Command(click.Command):
    """A command whose help shows worked examples, what is written, and exit codes."""

    examples: Sequence[Example] = ()
    writes: str = ""
    targets: bool = False

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write usage, purpose, examples, files, options and exit codes."""
        self.format_usage(ctx, formatter)
        self.format_help_text(ctx, formatter)
        with formatter.section("Examples"):
            for line, purpose in self.examples:
                start = " " * formatter.current_indent
                width = formatter.width
                formatter.write(click.formatting.wrap_text(line, width, start, f"{start}      "))
                formatter.write("\n")
                formatter.indent()
                formatter.write_text(purpose)
                formatter.dedent()
        with formatter.section("Writes"):
            formatter.write_text(self.writes or "Nothing but its output.")
        self.format_options(ctx, formatter)
        with formatter.section("Exit codes"):
            unreached = [UNREACHED] if self.targets else []
            formatter.write_dl([*EXIT_CODES[:-1], *unreached, EXIT_CODES[-1]])


def command(
    short: str,
    *,
    examples: Sequence[Example],
    writes: str = "",
    results: bool = False,
    figures: bool = False,
    targets: bool = False,
    stopped: str = "",
    name: str | None = None,
) -> Callable[[Callable[..., None]], Command]:
    """Make a command of a function that takes a :class:`Console` and its own options.

    Parameters
    ----------
    short : str
        Its purpose in the list of commands, at most 60 letters.
    examples : sequence of (line, purpose)
        Shown in the help.
    writes : str
        Which files it writes.
    results : bool
        True to give it ``--json``.
    figures : bool
        True to give it ``--theme``.
    targets : bool
        True if it may end with a target out of reach.
    stopped : str
        What to say after Ctrl-C, beside "stopped".
    name : str or None
        What to call it; None for the function's name.
    """

    def decorate(function: Callable[..., None]) -> Command:
        @functools.wraps(function)
        def run(**given: Any) -> None:
            console = Console(
                quiet=given.pop("quiet"),
                verbose=given.pop("verbose"),
                as_json=given.pop("as_json", False),
            )
            theme = given.pop("theme", "light")
            force = given.pop("force", False)
            found = {k: v for k, v in given.items() if isinstance(v, Path) and k not in WRITTEN}
            first = found.get("design", found.get("file"))
            read = sorted(found.values(), key=lambda v: v is not first)
            _run(
                functools.partial(function, console, **given), console, theme, stopped, read, force
            )

        settings = {"help_option_names": ["-h", "--help"]}
        made = click.command(name, cls=Command, short_help=short, context_settings=settings)(run)
        made.examples, made.writes, made.targets = tuple(examples), writes, targets
        made.params += _options(results, figures, bool(writes))
        return made

    return decorate


def _options(results: bool, figures: bool, files: bool) -> list[click.Parameter]:
    options = [
        click.Option(["-q", "--quiet"], is_flag=True, help="Print results or paths, no more."),
        click.Option(["-v", "--verbose"], is_flag=True, help="Show each step and its time."),
    ]
    if results:
        shown = "Print the results as JSON, and nothing else, on standard output."
        options.insert(0, click.Option(["--json", "as_json"], is_flag=True, help=shown))
    if files:
        shown = "Replace files that this program did not write, or that were changed since."
        options.insert(0, click.Option(["--force"], is_flag=True, help=shown))
    if figures:
        choice = click.Choice(THEMES)
        shown = "Colours for a screen, or greys and dashes for black and white print."
        options.insert(
            0,
            click.Option(["--theme"], type=choice, default="light", show_default=True, help=shown),
        )
    return list(options)


def _run(
    function: Callable[[], None],
    console: Console,
    style: str,
    stopped: str,
    read: Sequence[Path],
    force: bool,
) -> None:
    """Run a command; its errors become one line on standard error and an exit code."""
    from motor.base.errors import InvalidInput, MotorError, OutOfReach
    from motor.base.whole_files import asking

    try:
        if console.quiet and console.verbose:
            raise InvalidInput("--quiet", "come without --verbose", "both")
        source = str(read[0]) if read else ""
        with console, theme(style), asking(force=force, source=source, inputs=read):
            function()
    except InvalidInput as error:
        click.echo(terminal_text(f"error: {error}"), err=True)
        sys.exit(BAD_INPUT)
    except MotorError as error:
        click.echo(terminal_text(f"error: {error}"), err=True)
        sys.exit(OUT_OF_REACH if isinstance(error, OutOfReach) else FAILED)
    except KeyboardInterrupt:
        click.echo("\n" + "; ".join(filter(None, ["stopped", stopped])), err=True)
        sys.exit(STOPPED)
