"""The command ``motor report``.  Heavy libraries are imported inside."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["report"]


@click.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="HTML file to write.")
@click.option("--accuracy", help="Refine until Bl is known to that, e.g. 0.01%.")
def report(design: Path, out: Path, accuracy: str | None) -> None:
    """Solve a DESIGN file and write its page: one HTML file with live figures, to send on."""
    from motor.design_file import read_design
    from motor.errors import InvalidInput, OutputError
    from motor.units import parse_share

    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    if out.suffix.lower() not in (".html", ".htm"):
        raise InvalidInput("--out", "end in .html", str(out))
    if not out.parent.is_dir():
        raise OutputError(f"{out} could not be written: {out.parent} is no folder")
    record = read_design(design)
    from motor.report.page import write_page
    from motor.result import solve

    written = write_page(solve(record, accuracy=share), out)
    click.echo(f"written: {written}")
