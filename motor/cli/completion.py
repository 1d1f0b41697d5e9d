"""The command ``motor completion``, and what the shell is told about arguments."""

from __future__ import annotations

from pathlib import Path

import click
from click.shell_completion import CompletionItem, get_completion_class

from motor.cli.command import command
from motor.cli.console import Console

__all__ = [
    "SHELLS",
    "complete_geometry",
    "complete_material",
    "complete_toml",
    "completion",
]

SHELLS = ("bash", "zsh", "fish")
KINDS = ("magnets", "steels", "conductors", "formers", "wire")
TABLES = ("magnet_grades", "steel_grades", "conductor_grades", "formers")


def complete_material(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[CompletionItem]:
    """Return the materials whose names begin so."""
    from motor.materials.tables import read_table

    names = [next(iter(row.values())) for table in TABLES for row in read_table(f"{table}.csv")]
    names += [*KINDS, *(row["family"] for row in read_table("magnet_families.csv"))]
    return [CompletionItem(n) for n in names if n.lower().startswith(begun.lower())]


def complete_geometry(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[CompletionItem]:
    """Return what a starter can be of that begins so: geometry kinds, and a study."""
    from geometries import registered

    kinds = [*sorted(registered()), "study"]
    return [CompletionItem(kind) for kind in kinds if kind.startswith(begun)]


def complete_toml(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[CompletionItem]:
    """Return the design files that begin so, and the folders on the way to others."""
    folder, slash, start = begun.rpartition("/")
    place = Path(folder + slash) if slash else Path()
    try:
        entries = sorted(p for p in place.iterdir() if p.name.startswith(start))
    except OSError:
        return []
    visible = [p for p in entries if start.startswith(".") or not p.name.startswith(".")]
    files = [p for p in visible if p.suffix == ".toml" and p.is_file()]
    if not files:
        return [CompletionItem(begun, type="dir")]
    return [
        CompletionItem(folder + slash + p.name + ("/" if p.is_dir() else ""))
        for p in visible
        if p in files or p.is_dir()
    ]


@command(
    "Let the shell complete commands, options, materials, files",
    examples=(
        ('eval "$(motor completion bash)"', "in this shell; put the line into ~/.bashrc to keep"),
        ('eval "$(motor completion zsh)"', "likewise, ~/.zshrc"),
        ("motor completion fish > ~/.config/fish/completions/motor.fish", "for fish, for good"),
    ),
)
@click.argument("shell", type=click.Choice(SHELLS))
def completion(console: Console, shell: str) -> None:
    """Print the script that completes commands, options, materials and files in a SHELL."""
    made = get_completion_class(shell)
    assert made is not None
    commands = click.get_current_context().find_root().command
    script = made(commands, {}, "motor", "_MOTOR_COMPLETE").source()
    console.finish(lambda: [script])
