"""The command ``motor driver`` and the study of cleaner bass, from design file to files."""

from __future__ import annotations

import csv
import dataclasses
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas
import pytest
from scipy.io import wavfile

import studies.cleaner_bass as study
from geometries import InvalidInput
from motor.base.program import stamp
from motor.design.characteristic import Table
from motor.design.enclosure import Amplifier, Box
from motor.design.reading import design_to_toml, read_design, write_design
from motor.driver.lossy import LossyInductance
from motor.driver.measured import read_measured_bl
from motor.driver.parts import Driver, driver_of, field_inductance
from motor.results.motor_result import MotorResult
from tests.unit.cli.running import ran

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"


FOUND: dict[str, LossyInductance] = {}


@pytest.fixture(autouse=True)
def inductance_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Compute the inductance of each motor once for all tests of this file: it takes seconds."""

    def once(result: MotorResult, **options: Any) -> LossyInductance:
        motor = result.design.replace(moving_parts=None, box=None, amplifier=None)
        key = f"{design_to_toml(motor)}{options}"
        if key not in FOUND:
            FOUND[key] = field_inductance(result, **options)
        return FOUND[key]

    monkeypatch.setattr("motor.driver.parts.field_inductance", once)
    monkeypatch.setattr("motor.driver.run.field_loop", lambda *_: None)  # seconds too


@pytest.fixture
def few_frequencies(monkeypatch: pytest.MonkeyPatch) -> np.ndarray:
    """Let ``motor driver`` play three tones, where it is not about their number."""
    few = np.array([40.0, 80.0, 160.0])
    for name in ("FREQUENCIES", "CLEAN_FREQUENCIES"):
        monkeypatch.setattr(f"motor.driver.run.{name}", few)
    return few


def test_driver_prints_and_writes_everything(tmp_path: Path, few_frequencies: np.ndarray) -> None:
    design = read_design(DESIGN)
    assert design.moving_parts is not None
    stiffness = Table((-0.01, -0.004, 0.0, 0.01), (2000.0, 1300.0, 1150.0, 2100.0))
    design = design.replace(
        moving_parts=dataclasses.replace(design.moving_parts, stiffness=stiffness),
        box=Box(volume=15e-3),
        amplifier=Amplifier(output_resistance=0.1, clip=20.0),
    )
    write_design(design, tmp_path / "my.toml")
    x = np.linspace(-8, 8, 17)
    rows = "\n".join(f"{a:g},{6 - 0.04 * a**2:g}" for a in x)
    (tmp_path / "m.csv").write_text(f"x_mm,bl_Tm\n{rows}\n", encoding="utf-8")
    wave = np.sin(2 * np.pi * 60 * np.arange(800) / 8000).astype(np.float32)
    wavfile.write(tmp_path / "w.wav", 8000, wave)
    out = tmp_path / "out"
    result = ran(
        "driver",
        tmp_path / "my.toml",
        "--out",
        out,
        "--voltage",
        "6 V",
        "--power",
        "40 W",
        "--measured",
        tmp_path / "m.csv",
        "--wav",
        tmp_path / "w.wav",
    )
    assert result.exit_code == 0, result.output
    for word in (
        "inductance: over displacement and frequency, in ",
        "Bl(x, i): a current of 3.9 A changes Bl by ",
        "steel: at 1.95 A peak and 100 Hz ",
        "with steel on small minor loops",
        "sealed box of 15 l",
        "Qts",
        "limited by",
        "wire at",
        "largest lasting power",
        "the inductance keeps some off: coil ",
        " W in steel and rings (two bodies)",
        "damages",
    ):
        assert word in result.output
    assert " nan" not in result.output.lower()
    names = {p.name for p in out.iterdir()}
    for name in (
        "driver.cir",
        "bl.csv",
        "bl_polynomial.csv",
        "bl_spline.csv",
        "inductance_modes.csv",
        "stiffness.csv",
        "stiffness_spline.csv",
        "distortion.csv",
        "programme.csv",
        "findings.txt",
        "measured_bl.png",
        "clean_level.png",
    ):
        assert name in names
    again = read_measured_bl(out / "bl.csv")
    assert again.at_rest == pytest.approx(6.12, abs=0.05)
    with (out / "distortion.csv").open(encoding="utf-8") as stream:
        table = list(csv.DictReader(stream))
    assert len(table) == few_frequencies.size * 5
    assert all(0 <= float(row["thd"]) < 1 for row in table)
    described = json.loads((out / "csv-metadata.json").read_text(encoding="utf-8"))["tables"]
    remarks = {each["url"]: each.get("dc:description", "") for each in described}
    assert set(remarks) == {name for name in names if name.endswith(".csv")}
    assert "rest_position_mm = " in remarks["bl.csv"]
    assert "value = c0 + c1 d" in remarks["stiffness_spline.csv"]
    assert "largest fit error" in remarks["bl_polynomial.csv"]
    for name in remarks:
        frame = pandas.read_csv(out / name)
        assert len(frame) >= 1
        assert not any("#" in column for column in frame.columns)
    assert f"* {stamp()}\n" in (out / "driver.cir").read_text(encoding="utf-8")


def test_driver_refuses_a_design_without_moving_parts(tmp_path: Path) -> None:
    design = read_design(DESIGN).replace(moving_parts=None)
    write_design(design, tmp_path / "my.toml")
    result = ran("driver", tmp_path / "my.toml")
    assert result.exit_code == 2
    assert result.stderr.startswith("error: design must have a section [moving_parts]")


@pytest.mark.usefixtures("few_frequencies")
def test_driver_computes_the_inductance_that_a_design_does_not_give(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As ``motor inductance`` has it at 1 kHz; left out on request, and either is said."""
    for name in ("FREQUENCIES", "CLEAN_FREQUENCIES"):
        monkeypatch.setattr(f"motor.driver.run.{name}", np.array([80.0]))
    options = (DESIGN, "--voltage", "4 V")
    record = json.loads(ran("driver", *options, "--json").stdout)
    assert record["inductance_source"] == "computed"
    assert 10 < record["inductance_modes"] < 60
    assert 0 <= record["inductance_seconds"] < 600
    coil = json.loads(ran("inductance", DESIGN, "--frequency", "1 kHz", "--json").stdout)
    (rest,) = (row for row in coil["rows"] if row["displacement_mm"] == 0)
    stated = rest["inductance_uncertainty_mH"] + 0.01 * rest["inductance_mH"]
    le = record["small_signal"]["le_mH"]
    assert le == pytest.approx(rest["inductance_mH"], abs=stated)
    lossless = json.loads(ran("driver", *options, "--inductance", "lossless", "--json").stdout)
    assert lossless["small_signal"]["le_mH"] == pytest.approx(le, rel=1e-9)
    assert lossless["inductance_modes"] == 0
    said = ran("driver", *options, "--inductance", "none").stdout
    assert "inductance: none given and none computed" in said
    assert "from the motor's field" not in said


def test_source_follows_the_inductance() -> None:
    plain = Driver(
        resistance=4.0,
        force_factor=5.0,
        mass=0.01,
        stiffness=1e3,
        mechanical_resistance=1.0,
        area=0.01,
    )
    assert plain.inductance_source == "none"
    assert plain.replace(inductance=1e-3).inductance_source == "given"
    computed = plain.replace(inductance=1e-3, inductance_source="computed")
    assert computed.replace(mass=0.02).inductance_source == "computed"
    assert computed.replace(inductance=0.0).inductance_source == "none"
    with pytest.raises(InvalidInput, match="inductance_source must be one of given, computed"):
        plain.replace(inductance_source="guessed")


def test_driver_refuses_a_power_that_burns_the_coil() -> None:
    """No temperature that no coil reaches, and no exit code of success beside it."""
    result = ran("driver", DESIGN, "--power", "5 kW")
    assert result.exit_code == 2
    assert "power must keep the coil below 300 degC" in result.stderr
    assert result.stdout == ""


def test_driver_refuses_a_bare_voltage() -> None:
    result = ran("driver", DESIGN, "--voltage", "6")
    assert result.exit_code == 2
    assert "--voltage must be a voltage with its unit" in result.stderr


def test_study_answers_from_drawing_dimensions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On two frequencies and without inductance, which takes the study most of its time."""
    monkeypatch.setattr(study, "FREQUENCIES", np.array([45.0, 160.0]))
    monkeypatch.setattr(study, "driver_of", lambda result, **_: driver_of(result))
    monkeypatch.setattr(sys, "argv", ["cleaner_bass", "--out", str(tmp_path / "out")])
    study.main()
    said = capsys.readouterr().out
    answer = (tmp_path / "out" / "answer.txt").read_text(encoding="utf-8")
    assert answer in said
    assert "tall winding, 16 mm plays cleaner bass than short winding, 8 mm" in answer
    assert answer.count("third-order modulation:") == 4
    names = {p.name for p in (tmp_path / "out").iterdir()}
    for place in ("door", "bookshelf"):
        for pair in ("twins", "windings"):
            assert {f"{place}_{pair}.png", f"{place}_{pair}.csv"} <= names


def test_verdict_follows_the_figures() -> None:
    assert study.verdict({"a": ["x"], "b": []}, "a", "b") == (
        "a plays cleaner bass than b: better in x"
    )
    assert study.verdict({"a": ["x"], "b": ["y", "z"]}, "a", "b") == (
        "b plays cleaner bass than a: better in y, z; worse in x"
    )
    assert "equally clean" in study.verdict({"a": [], "b": []}, "a", "b")
    assert "no clear winner" in study.verdict({"a": ["x"], "b": ["y"]}, "a", "b")
