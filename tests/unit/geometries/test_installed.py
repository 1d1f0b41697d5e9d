"""A geometry of another installed package is known to the command line."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

CODE = """
from dataclasses import dataclass
from geometries import AXIAL_UP, Gap, Geometry, Region, Role
from geometries.contract import length
from geometries.outlines import rectangle

@dataclass(frozen=True, kw_only=True)
class Bare(Geometry, kind="bare-ring"):
    title = "ring without steel"
    bore: float = length("inner diameter")

    @property
    def gap(self):
        return Gap(self.bore / 2 - 2e-3, self.bore / 2 - 1e-3, -2e-3, 2e-3)

    def regions(self):
        outline = tuple(rectangle(self.bore / 2, self.bore / 2 + 8e-3, -5e-3, 5e-3))
        return (Region("magnet", Role.MAGNET, outline, magnetisation=AXIAL_UP),)

    @classmethod
    def example(cls):
        return cls(bore=40e-3)
"""


def package(folder: Path, name: str, code: str) -> None:
    """Lay an installed package with one module of geometries into a folder."""
    (folder / f"{name}.py").write_text(code)
    about = folder / f"{name}-1.0.dist-info"
    about.mkdir()
    (about / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
    (about / "entry_points.txt").write_text(f"[magnet_motor_study.geometries]\n{name} = {name}\n")


def run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the program with the folder's packages installed."""
    root = Path(__file__).parents[3]
    return subprocess.run(
        [sys.executable, "-c", "from motor.cli import main; main()", *arguments],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(root), str(folder)])},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_command_line_takes_a_kind_of_another_package(tmp_path: Path) -> None:
    package(tmp_path, "foreign_motor", CODE)
    package(tmp_path, "broken_motor", "1 / 0\n")
    design = tmp_path / "bare.toml"
    done = run(tmp_path, "new", "bare-ring", str(design))
    assert done.returncode == 0, done.stderr
    assert "geometry 'broken_motor' of broken_motor cannot be loaded: division by" in done.stderr
    assert 'kind = "bare-ring"' in design.read_text()
    done = run(tmp_path, "draw", str(design), "--out", str(tmp_path / "bare.svg"))
    assert done.returncode == 0, done.stderr
    assert "ring without steel" in (tmp_path / "bare.svg").read_text()
