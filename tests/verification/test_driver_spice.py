"""The SPICE sub-circuit, run by ngspice, against this project's integration in time.

Needs the program ngspice (Debian package ngspice); skipped without it.
"""

from __future__ import annotations

import math
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

import motor
from motor.design.characteristic import Polynomial
from motor.design.enclosure import Amplifier, Box
from motor.driver.parts import DriverSystem
from motor.driver.run import system_of
from motor.driver.small_signal import response
from motor.driver.spice import spice_subcircuit
from motor.driver.transient import integrate
from tests.verification.checks import check, outside
from tests.verification.driver_cases import EDDY, LE, driver

FERRITE = Path(__file__).parents[2] / "studies" / "designs" / "door_woofer_ferrite.toml"
NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed")
CLOSE = 2e-4
"""Of the peak: ngspice's trapezoidal rule at steps of 20 us on a 40 Hz tone."""
END, STEP = 0.1, 2e-5

SYSTEMS = {
    "baffle": DriverSystem(driver=driver((1.0, 20.0, -7200.0), (1.0, 30.0, 8e3))),
    "sealed, L(x)": DriverSystem(
        driver=driver((1.0, 20.0, -7200.0)).replace(
            inductance=Polynomial((LE, -40 * LE), -20e-3, 20e-3)
        ),
        box=Box(volume=15e-3),
    ),
    "eddy currents": DriverSystem(
        driver=driver((1.0, 20.0, -7200.0)).replace(inductance=EDDY), box=Box(volume=15e-3)
    ),
    "vented, no L": DriverSystem(
        driver=driver((1.0, 0.0, -7200.0), (1.0, 0.0, 8e3), inductance=0.0),
        box=Box(volume=25e-3, tuning=42.0),
        amplifier=Amplifier(output_resistance=0.4),
    ),
}


@pytest.mark.parametrize("name", SYSTEMS)
def test_ngspice_moves_alike(name: str, tmp_path: Path) -> None:
    system = SYSTEMS[name]
    deck = "\n".join(
        [
            "* test",
            spice_subcircuit(system, low=-11e-3, high=11e-3),
            "Vs in 0 SIN(0 8 40)",
            "X1 in 0 x v driver",
            ".options reltol=1e-6 abstol=1e-9 vntol=1e-9 method=trap",
            ".control",
            "set wr_vecnames",
            "set wr_singlescale",
            f"tran {STEP} {END} 0 {STEP}",
            "linearize v(x)",
            f"wrdata {tmp_path / 'out.txt'} v(x)",
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
    t, x = np.loadtxt(tmp_path / "out.txt", skiprows=1).T[:2]
    times = np.linspace(STEP, END, 500)
    motion = integrate(system, lambda s: 8 * math.sin(2 * math.pi * 40 * s), times, tolerance=1e-7)
    error = np.abs(np.interp(times, t, x) - motion.displacement * 1e3).max()
    peak = np.abs(motion.displacement).max() * 1e3
    what = f"travel by sub-circuit, {name}, largest difference over peak"
    check(what, outside("ngspice"), 0.0, error / peak, CLOSE, relative=False)


def test_demo_by_ngspice_has_bl_at_rest_and_impedance_of_the_response(tmp_path: Path) -> None:
    system = system_of(motor.solve(motor.read_design(FERRITE)))
    frequency = np.array([20.0, 44.0, 100.0, 1000.0])
    deck = [
        "* test",
        spice_subcircuit(system),
        "Vs in 0 DC 0 AC 1",
        "X1 in 0 x v driver",
        ".control",
        "op",
        "print v(x1.bl)",
    ]
    for f in frequency:
        deck += [f"ac lin 1 {f} {f}", "print mag(1/i(vs))"]
    (tmp_path / "deck.cir").write_text(
        "\n".join([*deck, "quit", ".endc", ".end"]) + "\n", encoding="utf-8"
    )
    assert NGSPICE is not None
    done = subprocess.run(
        [NGSPICE, "-b", "deck.cir"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    found = [float(v) for v in re.findall(r"^\S+\(\S+ = (\S+)", done.stdout, re.MULTILINE)]
    assert len(found) == 5, done.stdout + done.stderr
    rest = float(system.driver.bl.at_rest)
    check("Bl at rest in the sub-circuit", outside("ngspice"), rest, found[0], 1e-6)
    impedance = np.abs(response(system, frequency).impedance)
    for f, wanted, ohms in zip(frequency, impedance, found[1:], strict=True):
        what = f"impedance by sub-circuit at {f:g} Hz"
        check(what, outside("ngspice"), float(wanted), ohms, 1e-3)


def test_eddy_currents_by_ngspice_have_the_impedance_of_the_response(tmp_path: Path) -> None:
    """At rest, from 20 Hz to 20 kHz."""
    system = SYSTEMS["eddy currents"]
    deck = [
        "* test",
        spice_subcircuit(system, low=-11e-3, high=11e-3),
        "Vs in 0 DC 0 AC 1",
        "X1 in 0 x v driver",
        ".control",
        "set wr_vecnames",
        "set wr_singlescale",
        "ac dec 10 20 20k",
        f"wrdata {tmp_path / 'out.txt'} i(vs)",
        "quit",
        ".endc",
        ".end",
    ]
    (tmp_path / "deck.cir").write_text("\n".join([*deck, ""]), encoding="utf-8")
    assert NGSPICE is not None
    done = subprocess.run(
        [NGSPICE, "-b", "deck.cir"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (tmp_path / "out.txt").exists(), done.stdout + done.stderr
    f, real, imaginary = np.loadtxt(tmp_path / "out.txt", skiprows=1).T[:3]
    error = np.abs(-1 / (real + 1j * imaginary) / response(system, f).impedance - 1).max()
    what = "impedance with eddy currents by sub-circuit, largest error"
    check(what, outside("ngspice"), 0.0, float(error), 1e-3, relative=False)
