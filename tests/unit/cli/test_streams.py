"""What goes to standard output and what to standard error; colours; Ctrl-C; closed pipes."""

from __future__ import annotations

import json
import math
import re
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from motor.base.program import origin
from motor.cli import main
from motor.cli.progress import progress_bar
from tests.unit.cli.running import COMMAND, DESIGN, ROOT, at_terminal, environment, piped, ran

COLOUR = re.compile(rb"\x1b\[(?:\d+;)*(?:3[0-9]|9[0-7]|38;[0-9;]+)m")
STYLE = re.compile(rb"\x1b\[[0-9;]*m")
PLAN = ROOT / "studies" / "plans" / "gap_and_winding.toml"
BAD: Any = {
    "new": ["new", "no-such-kind", "x.toml"],
    "draw": ["draw", "no.toml"],
    "wire": ["wire", "no.toml", "--resistance", "3 ohm"],
    "materials": ["materials", "unobtainium"],
    "solve": ["solve", "no.toml"],
    "temperature": ["temperature", "no.toml"],
    "map": ["map", "no.toml"],
    "inductance": ["inductance", "no.toml"],
    "derivatives": ["derivatives", "no.toml"],
    "fit": ["fit", "no.toml", "no.toml"],
    "change": ["change", "no.toml", "--goal", "centred"],
    "driver": ["driver", "no.toml"],
    "check-driver": ["check-driver", "no.toml"],
    "tone": ["check-driver", str(DESIGN), "--frequency", "3 kHz"],
    "heat": ["heat", "no.toml"],
    "forces": ["forces", "no.toml"],
    "centring": ["centring", "no.toml"],
    "magnetising": ["magnetising", str(DESIGN), "--ampere-turns", "2 kA"],
    "endurance": ["endurance", str(DESIGN)],
    "assembly": ["assembly", "no.toml", "--part", "magnet"],
    "one design to compare": ["compare", str(DESIGN)],
    "burnt": ["heat", str(DESIGN), "--power", "5 kW"],
    "study": ["study", "no.toml", "--out", "out"],
    "report": ["report", "no.toml", "--out", "x.html"],
    "ending": ["report", str(DESIGN), "--out", "x.pdf"],
    "export": ["export", "no.toml", "--out", "out"],
    "formats": ["export", str(DESIGN), "--out", "out", "--only", "dxg"],
    "completion": ["completion", "tcsh"],
    "unknown": ["sovle"],
    "both": ["solve", str(DESIGN), "--quiet", "--verbose"],
    "theme": ["solve", str(DESIGN), "--theme", "dark"],
    "missing": ["wire", str(DESIGN)],
    "frequency": ["inductance", str(DESIGN), "--frequency", "21 kHz"],
    "frequency below 0": ["inductance", str(DESIGN), "--frequency=-1 Hz"],
    "number": ["temperature", str(DESIGN), "--step", "two"],
}


@pytest.mark.parametrize("arguments", BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_line_and_code_two(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert re.fullmatch(r"error: [^\n]+\n", done.stderr)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "arguments",
    [
        ["draw", str(DESIGN), "--out"],
        ["solve", str(DESIGN), "--no-figures", "--out"],
        ["temperature", str(DESIGN), "--from", "20 degC", "--to", "20 degC", "--out"],
        ["study", str(PLAN), "--workers", "1", "--out"],
        ["export", str(DESIGN), "--only", "svg", "--out"],
        ["materials", "N42", "--plot"],
    ],
    ids=lambda a: a[0],
)
def test_a_place_that_cannot_be_written_is_code_one(arguments: list[str], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    done = CliRunner().invoke(main, [*arguments, str(tmp_path / "file" / "x.svg")])
    assert done.exit_code == 1
    assert done.stdout == ""
    assert re.fullmatch(r"error: [^\n]+\n", done.stderr)


def strict(text: str) -> Any:
    def refuse(word: str) -> None:
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


def said(text: str) -> dict[str, Any]:
    """Return what --json printed: one record of one shape for every command."""
    record = strict(text)
    assert {"program", "version", "name"} <= set(record)
    assert isinstance(record["name"], str)
    return dict(record)


def test_solve_json_is_the_summary_file(tmp_path: Path) -> None:
    done = piped("solve", DESIGN, "--json", "--no-figures", "--out", tmp_path / "o", "--verbose")
    assert done.returncode == 0
    assert said(done.stdout) == strict((tmp_path / "o" / "summary.json").read_text())
    for word in ("mesh: ", "fine mesh: ", "Bl(x): ", "files: ", "written: "):
        assert re.search(rf"^{re.escape(word)}|{re.escape(word)}\d", done.stderr, re.MULTILINE)


def test_temperature_json_is_the_file(tmp_path: Path) -> None:
    more = ["--from", "-20 degC", "--to", "20 degC", "--json", "--quiet"]
    done = ran("temperature", DESIGN, *more, "--out", tmp_path / "o")
    assert said(done.stdout) == strict((tmp_path / "o" / "temperature.json").read_text())
    assert done.stderr == ""


def test_inductance_json_is_the_file(tmp_path: Path) -> None:
    done = ran("inductance", DESIGN, "--frequency", "1 kHz", "--json", "-q", "--out", tmp_path)
    record = said(done.stdout)
    assert record == strict((tmp_path / "inductance.json").read_text())
    assert {row["frequency_Hz"] for row in record["rows"]} == {1000.0}
    rest = next(row for row in record["rows"] if row["displacement_mm"] == 0)
    impedance = complex(
        record["coil_resistance_ohm"] + rest["eddy_resistance_ohm"],
        2e3 * math.pi * rest["inductance_mH"] * 1e-3,
    )
    assert rest["impedance_ohm"] == pytest.approx(abs(impedance), rel=1e-12)
    assert done.stderr == ""


def test_inductance_gives_a_line_for_the_design_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("FREQUENCIES", "CLEAN_FREQUENCIES"):
        monkeypatch.setattr(f"motor.driver.run.{name}", np.array([60.0, 120.0]))
    line = ran("inductance", DESIGN, "--frequency", "100 Hz").stdout.split("\ninductance = ")[1]
    text = DESIGN.read_text()
    assert "inductance" not in text
    new = tmp_path / "with_line.toml"
    new.write_text(f"{text.rstrip()}\ninductance = {line.partition(chr(10))[0]}\n")
    options = ("--voltage", "4 V", "--inductance", "none", "--json")
    before, after = (said(ran("driver", path, *options).stdout) for path in (DESIGN, new))
    assert (before["inductance_source"], after["inductance_source"]) == ("none", "given")
    assert before["small_signal"]["le_mH"] == 0 < after["small_signal"]["le_mH"]
    assert after["small_signal"]["fs_Hz"] == before["small_signal"]["fs_Hz"]
    assert after["levels"] != before["levels"]


def test_study_json_holds_the_results_file(tmp_path: Path) -> None:
    out, plan = tmp_path / "o", tmp_path / "plan.toml"
    axis = '[[sweep]]\n"coil.winding_height" = ["12 mm", "13 mm"]\n'
    plan.write_text(f'name = "two"\ndesign = "{DESIGN}"\n{axis}', encoding="utf-8")
    done = ran("study", plan, "--out", out, "--workers", "1", "--json", "--no-figures")
    assert done.exit_code == 0
    record = said(done.stdout)
    assert record["results"] == strict((out / "results.json").read_text())
    assert (record["points"], record["without_result"]) == (2, 0)
    assert origin().items() <= record.items()
    again = ran("study", plan, "--out", out, "--workers", "1", "--json", "--no-figures", "-v")
    assert said(again.stdout)["reused"] == 2
    assert "2 of 2 designs" in again.stderr


def test_driver_json() -> None:
    more = ["--voltage", "4 V", "--power", "20 W", "--inductance", "none", "--json"]
    record = said(ran("driver", DESIGN, *more).stdout)
    assert list(record)[:2] == ["program", "version"]
    assert 20 < record["small_signal"]["fs_Hz"] < 200
    assert [level["voltage_V"] for level in record["levels"]] == [0.5, 1, 2, 3, 4]
    assert record["heat"]["coil_degC"] > record["heat"]["motor_degC"] > 20
    alone = said(ran("heat", DESIGN, "--power", "20 W", "--json").stdout)
    assert record["heat"]["bl_at_rest_Tm"] == alone["bl_at_rest_warm_Tm"]
    assert record["heat"]["coil_degC"] == alone["coil_temperature_degC"]
    assert record["heat"]["largest_power_W"] == alone["largest_power_W"]
    assert len(record["clean_level"]) == 13


def test_wire_and_materials_json() -> None:
    wires = said(ran("wire", DESIGN, "--resistance", "3.6 ohm", "--json").stdout)
    distance = [abs(w["coil_resistance_ohm"] - 3.6) for w in wires["wires"]]
    assert distance == sorted(distance)
    every = said(ran("materials", "--json").stdout)
    one = said(ran("materials", "N42", "--json").stdout)
    assert {k: v for k, v in one.items() if k not in origin()} in every["magnets"]
    family = said(ran("materials", "neodymium", "--json").stdout)
    assert family["magnets"] == [m for m in every["magnets"] if m["family"] == "neodymium"]
    wire = said(ran("materials", "wire", "--json").stdout)
    assert set(wire) == {"program", "version", "name", "wire"}
    assert one["source"]
    assert one["states"][1]["temperature_degC"] == 20


def test_quiet_prints_paths_or_the_result_only(tmp_path: Path) -> None:
    out = tmp_path / "o"
    done = piped("solve", DESIGN, "--quiet", "--no-figures", "--out", out)
    assert {Path(line) for line in done.stdout.splitlines()} == set(out.glob("[!.]*"))
    assert done.stderr == ""
    done = piped("solve", DESIGN, "--quiet")
    assert "Bl at rest" in done.stdout
    assert "Caution" not in done.stdout
    assert done.stderr == ""
    done = piped("export", DESIGN, "--quiet", "--only", "svg,step", "--out", tmp_path / "e")
    assert {Path(line) for line in done.stdout.splitlines()} == set((tmp_path / "e").glob("[!.]*"))
    assert done.stderr == ""
    done = piped("draw", DESIGN, "--quiet", "--out", tmp_path / "s.svg")
    assert done.stdout == f"{tmp_path / 's.svg'}\n"


def test_a_pipe_gets_neither_colours_nor_progress() -> None:
    done = piped("temperature", DESIGN, "--from", "-40 degC", "--to", "20 degC")
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    assert done.stderr == ""


def test_a_pipe_is_told_once_a_minute(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = iter([0.0, 20.0, 61.0, 90.0, 125.0])
    monkeypatch.setattr("motor.cli.progress.time.monotonic", lambda: next(clock))
    with progress_bar("gap") as move:
        for done in (1, 5, 8, 10):
            move(done, 20)
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.splitlines() == [
        "gap: 5 of 20 after 1 min, about 3 min left",
        "gap: 10 of 20 after 2 min, about 2 min left",
    ]


def test_a_terminal_gets_both_and_quiet_takes_progress_away() -> None:
    code, shown = at_terminal("temperature", DESIGN, "--step", "15")
    assert code == 0
    assert re.search(rb"degC and back, \d+ of \d+", shown)
    assert COLOUR.search(shown)
    code, shown = at_terminal("temperature", DESIGN, "--to", "20 degC", "--quiet")
    assert code == 0
    assert b"and back" not in shown


def test_no_color_at_a_terminal() -> None:
    code, shown = at_terminal("temperature", DESIGN, "--to", "20 degC", NO_COLOR="1")
    assert code == 0
    assert b"pacemakers" in shown
    assert not STYLE.search(shown)


def test_ctrl_c_is_quiet_and_code_130() -> None:
    code, shown = at_terminal("temperature", DESIGN, "--step", "1", stop_at=b"degC and back")
    assert code == 130
    assert shown.rstrip().endswith(b"stopped")
    assert b"Traceback" not in shown


def test_ctrl_c_in_a_study_says_that_it_can_be_gone_on_with(tmp_path: Path) -> None:
    arguments = ["study", PLAN, "--out", tmp_path / "o", "--workers", "1"]
    code, shown = at_terminal(*arguments, stop_at=b"/20")
    assert code == 130
    assert b"finished designs are kept" in shown
    assert b"Traceback" not in shown
    assert (tmp_path / "o" / "study.sqlite").exists()


@pytest.mark.parametrize("arguments", [["materials"], ["materials", "--json"], ["--help"]])
def test_a_closed_pipe_is_quiet(arguments: list[str]) -> None:
    with subprocess.Popen(
        [*COMMAND, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(),
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() in (0, 1)


@pytest.mark.parametrize("arguments", [["materials"], ["materials", "--json"], ["solve", "--help"]])
def test_a_full_disk_below_the_output_is_one_line(arguments: list[str]) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [*COMMAND, *arguments],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env=environment(),
            timeout=60,
        )
    assert done.returncode == 1
    assert re.fullmatch(r"error: the output could not be written: [^\n]+\n", done.stderr)
