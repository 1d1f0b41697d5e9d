"""The command ``motor`` and the order in which its help shows the commands."""

from __future__ import annotations

import difflib
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from motor.base.media import terminal_text
from motor.cli.assembly import assembly
from motor.cli.centring import centring
from motor.cli.change import change
from motor.cli.check_driver import check_driver
from motor.cli.command import BAD_INPUT, FAILED, STOPPED
from motor.cli.compare import compare
from motor.cli.completion import completion
from motor.cli.derivatives import derivatives
from motor.cli.design import draw, new, wire
from motor.cli.driver import driver
from motor.cli.endurance import endurance
from motor.cli.export import export
from motor.cli.fit import fit
from motor.cli.forces import forces
from motor.cli.heat import heat
from motor.cli.import_outline import import_outline
from motor.cli.inductance import inductance
from motor.cli.magnetising import magnetising
from motor.cli.map import map_command
from motor.cli.materials import materials
from motor.cli.report import report
from motor.cli.solve import solve
from motor.cli.study import study
from motor.cli.temperature import temperature

__all__ = ["COMMANDS", "main"]

# Matrices here are small: threads of the linear-algebra library cost more than they give, and
# stall whenever another process has the other cores.  Set before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

COMMANDS: tuple[tuple[str, tuple[click.Command, ...]], ...] = (
    ("Draw up a design", (new, import_outline, materials, wire, draw)),
    (
        "See what its motor does",
        (
            solve,
            forces,
            endurance,
            assembly,
            centring,
            magnetising,
            temperature,
            map_command,
            inductance,
            derivatives,
            change,
        ),
    ),
    ("Put it into a driver", (driver, check_driver, heat)),
    ("Compare designs", (compare, study)),
    ("Compare with a sample", (fit,)),
    ("Hand it on", (report, export)),
    ("Set up the shell", (completion,)),
)
"""A heading and its commands, in the order of a designer's work: register new ones here."""


LONGEST = 400
"""Letters of an error that are shown."""


class _Root(click.Group):
    """The group of all commands: help under headings, errors as one line."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands under their headings."""
        for heading, commands in COMMANDS:
            with formatter.section(heading):
                formatter.write_dl([(str(c.name), c.short_help or "") for c in commands])

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run; wrong usage is one line on standard error, a closed pipe is no fault."""
        if not standalone_mode:
            return super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
        try:
            code = super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
            sys.stdout.flush()
        except click.exceptions.NoArgsIsHelpError as error:
            error.show()
            sys.exit(BAD_INPUT)
        except click.UsageError as error:
            if isinstance(error, click.NoSuchOption):
                near = _near(error.option_name, error.possibilities or ())
                error = click.NoSuchOption(error.option_name, possibilities=near, ctx=error.ctx)
            path = "motor" if error.ctx is None else error.ctx.command_path
            words = " ".join(terminal_text(error.format_message()).split()).rstrip(".")
            words = words if len(words) <= LONGEST else f"{words[:LONGEST]} ..."
            click.echo(f"error: {words}; see {path} --help", err=True)
            sys.exit(BAD_INPUT)
        except click.Abort:
            click.echo("stopped", err=True)
            sys.exit(STOPPED)
        except OSError as cause:
            if cause.filename is not None:
                raise
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            if not isinstance(cause, BrokenPipeError):
                words = f"error: the output could not be written: {cause.strerror}"
                click.echo(words, err=True)
            sys.exit(FAILED)
        sys.exit(code if isinstance(code, int) else 0)


def _near(option: str, known: Sequence[str]) -> list[str]:
    """Return the options that a misspelt one is likely to mean."""
    plain = {name.lstrip("-"): name for name in known}
    return [plain[k] for k in difflib.get_close_matches(option.lstrip("-"), plain, cutoff=0.7)]


@click.group(cls=_Root, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="magnet-motor-study", prog_name="motor")
@click.option(
    "--run-code",
    is_flag=True,
    help="Run the Python file that a design names as its geometry's code, with all your rights.",
)
@click.pass_context
def main(context: click.Context, *, run_code: bool) -> None:
    """Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable stroke.

    Each command explains itself with examples: motor solve --help.

    Exit codes: 0 done, 1 mesh, solution or output failed, 2 input cannot be used, 3 a study's
    target is out of reach, 130 stopped.
    """
    if run_code:
        from geometries import running_code

        context.with_resource(running_code())


for _, _commands in COMMANDS:
    for _command in _commands:
        main.add_command(_command)
