"""The command ``motor report``.  Heavy libraries are imported inside."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["report"]


@click.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="HTML file to write.")
@click.option("--accuracy", help="Refine until Bl is known to that, e.g. 0.01%.")
@click.option(
    "--results",
    type=click.Path(path_type=Path),
    help="For a study: folder of motor study --out; what is solved there is not solved again.",
)
def report(design: Path, out: Path, accuracy: str | None, results: Path | None) -> None:
    """Solve a DESIGN or study file and write its page: one HTML file with live figures."""
    from motor.design_file import read_design
    from motor.errors import InvalidInput, OutputError
    from motor.units import parse_share

    share = None if accuracy is None else parse_share(accuracy, "--accuracy")
    if out.suffix.lower() not in (".html", ".htm"):
        raise InvalidInput("--out", "end in .html", str(out))
    if not out.parent.is_dir():
        raise OutputError(f"{out} could not be written: {out.parent} is no folder")
    from motor.report.page.study.command import is_study, report_study

    if is_study(design):
        if accuracy is not None:
            raise InvalidInput("--accuracy", "be left out for a study", accuracy)
        click.echo(f"written: {report_study(design, out, results)}")
        return
    if results is not None:
        raise InvalidInput("--results", "come with a study file", str(results))
    record = read_design(design)
    from motor.report.page import write_page
    from motor.result import solve

    written = write_page(solve(record, accuracy=share), out)
    click.echo(f"written: {written}")
