"""The picture in which the coil moves by itself."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner

import motor
from motor.cli import main
from motor.report.figures.moving_coil import moving_coil, moving_svg

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def result() -> motor.MotorResult:
    return motor.solve(motor.read_design(DESIGN))


def test_the_marker_runs_on_bl_as_the_winding_moves(result: motor.MotorResult) -> None:
    root = ElementTree.fromstring(moving_svg(result))
    data = moving_coil(result).data
    shifts = root.find(f".//{SVG}animateTransform").get("values").split(";")
    x = np.array([-float(s.split()[1]) for s in shifts]) / data["pixels_per_mm"]
    up = next(a for a in root.iter(f"{SVG}animate") if a.get("attributeName") == "cy")
    height = np.array([float(v) for v in up.get("values").split(";")])
    bl = (data["bottom"] - height) / (data["bottom"] - data["top"]) * data["bl_top"]
    np.testing.assert_allclose(bl, result.bl_curve(x * 1e-3), rtol=2e-3)
    assert x.max() == pytest.approx(result.usable_stroke.value * 1e3, abs=0.01)
    assert len(set(re.findall('values="(0 .*?)"', moving_svg(result)))) == 1


def test_the_command_writes_it_and_the_plain_drawing_stays(tmp_path: Path) -> None:
    run = CliRunner().invoke(
        main, ["draw", str(DESIGN), "--moving", "--out", str(tmp_path / "m.svg")]
    )
    assert run.exit_code == 0, run.output
    assert "animateTransform" in (tmp_path / "m.svg").read_text(encoding="utf-8")
    run = CliRunner().invoke(main, ["draw", str(DESIGN), "--out", str(tmp_path / "s.svg")])
    assert run.exit_code == 0, run.output
    assert "animate" not in (tmp_path / "s.svg").read_text(encoding="utf-8")
