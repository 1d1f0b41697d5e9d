"""Results as files: a folder that appears complete or not at all."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from geometries.drawing import section_svg
from motor.arrays import Floats
from motor.design_file import design_to_toml
from motor.errors import OutputError
from motor.steps import step

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.curves.demagnetisation import TemperatureSweep
    from motor.result import MotorResult

__all__ = ["folder_of", "save", "save_figure", "save_sweep", "write_text", "write_vtu"]


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in one step; OutputError if it cannot be written."""
    path = Path(path)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(text)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as cause:
        raise OutputError(f"{path} could not be written: {cause.strerror or cause}") from cause


@contextlib.contextmanager
def folder_of(folder: str | Path) -> Iterator[tuple[Path, list[Path]]]:
    """Fill a folder in one step: give a hidden folder to write to, move all files at the end.

    On failure nothing new stays behind.  The list that comes with it holds the files' final
    paths once the block has ended; files of the same names are replaced.

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


def save(result: MotorResult, folder: str | Path, *, pictures: bool = True) -> list[Path]:
    """Write all results of a design into a folder, in one step.

    Parameters
    ----------
    result : MotorResult
    folder : path
        Made if it does not exist; files of the same names are replaced.
    pictures : bool
        False to leave out the PNG and SVG figures.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    OutputError
        If the folder cannot be written; nothing new stays behind.
    """
    with step("figures and files" if pictures else "files"), folder_of(folder) as (work, written):
        _write_all(result, work, pictures)
    return written


def save_sweep(sweep: TemperatureSweep, folder: str | Path) -> list[Path]:
    """Write a temperature sweep: CSV, JSON and the figure; see :func:`save`."""
    record = sweep.summary()
    rows = record["rows"]
    with step("figure and files"), folder_of(folder) as (work, written):
        (work / "temperature.json").write_text(
            json.dumps(record, indent=2, allow_nan=False) + "\n", encoding="utf-8"
        )
        with (work / "temperature.csv").open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        save_figure(sweep.plot(), work / "temperature")
    return written


def save_figure(figure: Figure, stem: Path) -> None:
    """Write a figure as PNG and SVG."""
    figure.savefig(stem.with_name(stem.name + ".png"), dpi=130)
    figure.savefig(stem.with_name(stem.name + ".svg"), dpi=200)


def _write_all(result: MotorResult, work: Path, pictures: bool) -> None:
    design = result.design
    (work / "summary.json").write_text(
        json.dumps(result.summary(), indent=2, allow_nan=False) + "\n", encoding="utf-8"
    )
    (work / "design.toml").write_text(design_to_toml(design), encoding="utf-8")
    curve = result.bl_curve
    _write_csv(
        work / "bl_curve.csv",
        ("x_mm", "bl_Tm", "bl_uncertainty_Tm"),
        (curve.x * 1e3, curve.bl, curve.uncertainty),
    )
    gap = result.gap_profile
    _write_csv(
        work / "gap_profile.csv",
        ("z_mm", "b_r_at_coil_T", "b_r_at_coil_uncertainty_T", "b_r_at_middle_T"),
        (gap.z * 1e3, gap.at_coil, gap.uncertainty, gap.at_middle),
    )
    section = section_svg(
        design.regions,
        gap=design.geometry.gap,
        coil=design.coil.outlines(drawn=True),
        title=design.name,
    )
    (work / "section.svg").write_text(section, encoding="utf-8")
    write_vtu(result, work / "field.vtu")
    if pictures:
        from motor.report.figures import figures

        for stem, figure in figures(result).items():
            save_figure(figure, work / stem)


def _write_csv(path: Path, header: Sequence[str], columns: Iterable[Floats]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(header)
        for row in zip(*columns, strict=True):
            writer.writerow([f"{value:.9g}" for value in row])


def write_vtu(result: MotorResult, path: str | Path) -> None:
    """Write the field as a VTU file of second-order triangles.

    Point data: ``flux_function_Wb`` (psi = r A).  Cell data: ``flux_density_T`` (B_r, B_z, 0;
    mean over the triangle), ``field_strength_A_per_m`` likewise, and ``region``, an index into
    the summary's list ``regions``.
    Coordinates (r, z, 0) in metres.
    """
    import meshio

    level = result.field.fine
    system = level.system
    r, z = system.basis.doflocs
    weight = system.weight[..., None]

    def mean(values: Floats) -> Floats:
        """Return the mean over each triangle, with a zero third component."""
        flat = (values * weight).sum(axis=1) / weight.sum(axis=1)
        return np.column_stack([flat, np.zeros(len(flat))])

    meshio.Mesh(
        np.stack([r, z, np.zeros_like(r)], axis=1),
        [("triangle6", system.nodes)],
        point_data={"flux_function_Wb": r * level.potential},
        cell_data={
            "flux_density_T": [mean(system.flux_density(level.potential))],
            "field_strength_A_per_m": [mean(system.field_strength(level.potential))],
            "region": [system.mesh.label.astype(np.int32)],
        },
    ).write(path, file_format="vtu")
