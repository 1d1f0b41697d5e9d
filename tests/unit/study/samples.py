"""Synthetic samples: a measurement file and its tables, read off a motor that is known."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

import motor
from motor.base.arrays import Floats
from motor.design.design import Design
from motor.results.motor_result import MotorResult
from motor.study.forward import built, reading, wound
from motor.study.measurements import Measurement

__all__ = ["UNKNOWNS", "bl_rows", "sample_of", "write_sample"]

UNKNOWNS = """
[unknowns]
"factors.remanence" = 0.03
"factors.steel" = 0.05
"coil.rest_position" = "0.5 mm"
"""
NOISE = 0.005


def sample_of(design: Design, truth: Mapping[str, float]) -> MotorResult:
    """Return the motor that was built."""
    return motor.solve(built(wound(design), truth), accuracy=2e-4)


def bl_rows(sample: MotorResult, rng: np.random.Generator, points: int = 31) -> Floats:
    """Return displacements in mm and Bl in T m with noise, (n, 2)."""
    reach = 0.6 * min(-sample.bl_curve.x[0], sample.bl_curve.x[-1])
    x = np.linspace(-reach, reach, points)
    bl = reading(sample, Measurement("rig", "bl", {"x": x}, x, 1.0))
    return np.stack([1e3 * x, bl + NOISE * bl.max() * rng.standard_normal(points)], axis=1)


def write_sample(folder: Path, rows: Floats, more: str = "", unknowns: str = UNKNOWNS) -> Path:
    """Write a measurement file with a table of Bl(x) and return its path."""
    lines = ["x_mm,bl_Tm", *(f"{x:.6f},{bl:.6f}" for x, bl in rows)]
    (folder / "bl.csv").write_text("\n".join(lines) + "\n")
    text = unknowns + '[[measurement]]\nname = "rig"\nkind = "bl"\nfile = "bl.csv"\n'
    text += f'deviation = "{100 * NOISE} %"\n{more}'
    (folder / "sample.toml").write_text(text)
    return folder / "sample.toml"
