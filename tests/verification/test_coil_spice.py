"""The held coil's sub-circuit, run by ngspice, against the modes it was made from.

Needs the program ngspice (Debian package ngspice); skipped without it.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

import motor
from motor.results.coil_model import coil_model
from motor.results.motor_result import solve
from tests.verification.checks import check, outside

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")


def test_ngspice_finds_the_same_impedance(tmp_path: Path) -> None:
    model = coil_model(solve(motor.starter("outside-magnet"), uncertainty=False))
    x = -1.3e-3
    deck = "\n".join(
        [
            "* test",
            model.spice_subcircuit(x),
            "I1 0 in DC 0 AC 1",
            "X1 in 0 coil",
            ".control",
            "set wr_vecnames",
            "set wr_singlescale",
            "ac dec 5 20 20k",
            f"wrdata {tmp_path / 'out.txt'} v(in)",
            "quit",
            ".endc",
            ".end",
        ]
    )
    (tmp_path / "deck.cir").write_text(deck + "\n", encoding="utf-8")
    assert NGSPICE is not None
    done = subprocess.run(
        [NGSPICE, "-b", "deck.cir"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (tmp_path / "out.txt").exists(), done.stdout + done.stderr
    frequency, real, imaginary = np.loadtxt(tmp_path / "out.txt", skiprows=1).T[:3]
    inside = frequency <= 20e3
    frequency, found = frequency[inside], (real + 1j * imaginary)[inside]
    at = np.array([x])
    expected = model.coil_resistance + model.eddy_resistance(at, frequency)[:, 0]
    expected = expected + 2j * np.pi * frequency * model.inductance(at, frequency)[:, 0]
    error = float(np.max(np.abs(found / expected - 1)))
    assert len(frequency) > 10
    check(
        "impedance by sub-circuit, largest error",
        outside("ngspice"),
        0.0,
        error,
        1e-3,
        relative=False,
    )
