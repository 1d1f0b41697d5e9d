"""All files for other tools into one folder, and nothing solved that no file asks for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from geometries import InvalidInput
from motor.base.steps import step
from motor.base.whole_files import folder_of

if TYPE_CHECKING:
    from motor.design.design import Design

__all__ = ["ASKED_FOR", "FORMATS", "NEEDS_FIELD", "export"]

FORMATS = ("svg", "dxf", "step", "mesh", "vtu", "csv")
"""What is written unless less or more is asked for."""
ASKED_FOR = ("msh",)
"""Formats that are written on request."""
NEEDS_FIELD = frozenset({"vtu", "csv"})
"""Formats that hold results."""


def export(design: Design, folder: str | Path, only: Sequence[str] = FORMATS) -> list[Path]:
    """Write a design in several formats into a folder, in one step.

    The field is solved only where a format holds results.

    Parameters
    ----------
    design : Design
    folder : path
        Made if it does not exist; files of the same names are replaced.
    only : sequence of str
        Some of "svg", "dxf", "step", "mesh", "vtu", "csv" (all by default), and "msh".

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InvalidInput
        If a format is not known.
    MotorError
        If meshing, solution or writing fails; nothing new stays behind.
    """
    from motor.report.files.dxf import write_dxf
    from motor.report.files.mesh_tables import write_mesh_tables
    from motor.report.files.msh import write_msh
    from motor.report.files.sheet import sheet_svg
    from motor.report.files.step import write_step
    from motor.report.files.vtu import write_vtu

    wanted = set(only)
    known = (*FORMATS, *ASKED_FOR)
    for name in only:
        if name not in known:
            raise InvalidInput("formats", f"be some of {', '.join(known)}", repr(name))
    if not wanted:
        raise InvalidInput("formats", f"be some of {', '.join(known)}", "none")
    with folder_of(folder) as (work, written):
        if "svg" in wanted:
            (work / "section.svg").write_text(sheet_svg(design), encoding="utf-8")
        if "dxf" in wanted:
            with step("drawing"):
                write_dxf(design, work / "section.dxf")
        if "step" in wanted:
            with step("solids"):
                write_step(design, work / "solids.step")
        mesh = None
        if wanted & NEEDS_FIELD:
            from motor.report.files.folder import write_tables
            from motor.results.motor_result import solve

            result = solve(design)
            mesh = result.field.fine.system.mesh
            if "vtu" in wanted:
                write_vtu(result, work / "field.vtu")
            if "csv" in wanted:
                write_tables(result, work)
        if "mesh" in wanted:
            with step("mesh tables"):
                write_mesh_tables(design, work, mesh=mesh)
        if "msh" in wanted:
            with step("mesh file"):
                write_msh(design, work / "mesh.msh", mesh=mesh)
    return written
