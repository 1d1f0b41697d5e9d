"""The parts as solids of revolution in a STEP file (ISO 10303-21), made by gmsh's OpenCASCADE."""

from __future__ import annotations

import contextlib
import math
import os
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geometries import Point
from geometries.words import one_line
from motor.base.errors import MeshError
from motor.base.gmsh_session import gmsh_session
from motor.base.program import NAME, stamp
from motor.base.whole_files import whole_file
from motor.report.files.bodies import bodies_of

if TYPE_CHECKING:
    from motor.design.design import Design

__all__ = ["write_step"]

HEADER = re.compile(r"FILE_NAME\(.*?\);\s*FILE_DESCRIPTION\(.*?\);", re.DOTALL)
PRODUCT = re.compile(r"= PRODUCT\('[^']*',\s*'[^']*'")
PLACE = re.compile(r"= NEXT_ASSEMBLY_USAGE_OCCURRENCE\('[^']*',\s*'[^']*'")
SOLID = re.compile(r"= MANIFOLD_SOLID_BREP\('[^']*'")


def write_step(design: Design, path: str | Path) -> None:
    """Write one solid for each part, winding and former included; millimetres, axis along z.

    Every part is a product of its region's name within an assembly of the design's name; the
    coil, at rest, is ``coil-winding`` and ``coil-former``.

    Raises
    ------
    MeshError
        If gmsh cannot be loaded or a part cannot be revolved.
    OutputError
        If the file cannot be written.
    """
    bodies = bodies_of(design)
    with whole_file(path) as hidden:
        plain = hidden.with_name("solids.step")
        with gmsh_session() as gmsh:
            try:
                for body in bodies:
                    _revolve(gmsh, body.outline)
                gmsh.model.occ.synchronize()
                with _silent():
                    gmsh.write(str(plain))
            except Exception as cause:  # gmsh raises bare Exception
                raise MeshError(f"gmsh could not make the solids: {cause}") from cause
        text = plain.read_text(encoding="ascii")
        plain.unlink()
        names = [body.name for body in bodies]
        title = one_line(design.name) or design.geometry.kind
        hidden.write_text(_named(text, title, names), encoding="ascii")


def _revolve(gmsh: Any, outline: Sequence[Point]) -> None:
    """Add the solid that an outline in metres sweeps around the z axis, in millimetres."""
    occ = gmsh.model.occ
    points = [occ.addPoint(r * 1e3, 0.0, z * 1e3) for r, z in outline]
    ends = zip(points, [*points[1:], points[0]], strict=True)
    loop = occ.addCurveLoop([occ.addLine(a, b) for a, b in ends])
    face = (2, occ.addPlaneSurface([loop]))
    solids = [tag for dim, tag in occ.revolve([face], 0, 0, 0, 0, 0, 1, 2 * math.pi) if dim == 3]
    if len(solids) != 1:
        raise MeshError("a part did not become one solid")
    occ.remove([face], recursive=True)


def _named(text: str, title: str, names: Sequence[str]) -> str:
    """Return the file with the names of assembly and parts, and with a head of its own.

    gmsh gives products no names, and numbers their places in the assembly on from file to file;
    both stand in the order of their making.
    """
    products, solids = len(PRODUCT.findall(text)), len(SOLID.findall(text))
    if products != len(names) + 1 or solids != len(names):
        raise MeshError(f"gmsh wrote {solids} solids in {products} products for {len(names)} parts")
    assembly = [_string(name) for name in (title, *names)]
    label, solid, place = iter(assembly), iter(assembly[1:]), iter(assembly[1:])
    text = PRODUCT.sub(lambda _: "= PRODUCT({0},{0}".format(next(label)), text)
    text = SOLID.sub(lambda _: f"= MANIFOLD_SOLID_BREP({next(solid)}", text)
    text = PLACE.sub(lambda _: "= NEXT_ASSEMBLY_USAGE_OCCURRENCE({0},{0}".format(next(place)), text)
    head = (
        f"FILE_DESCRIPTION(({_string('solids of revolution, millimetres, axis along z')}),'2;1');\n"
        f"FILE_NAME({assembly[0]},'',(''),(''),{_string(stamp())},"
        f"{_string(NAME)},'');"
    )
    return HEADER.sub(lambda _: head, text, count=1)


def _string(text: str) -> str:
    """Return text as a string of the exchange format: quotes doubled, other letters as hex."""
    parts = []
    for letter in text:
        if letter in "'\\":
            parts.append(letter * 2)
        elif " " <= letter <= "~":
            parts.append(letter)
        elif ord(letter) <= 0xFFFF:
            parts.append(rf"\X2\{ord(letter):04X}\X0" + "\\")
        else:
            parts.append(rf"\X4\{ord(letter):08X}\X0" + "\\")
    return f"'{''.join(parts)}'"


@contextlib.contextmanager
def _silent() -> Iterator[None]:
    """Keep the library's own report of a transfer, which no option stops, off the screen."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
