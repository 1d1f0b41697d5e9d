"""Study files and ``motor study``: what is read, written, and refused."""

from __future__ import annotations

import csv
import dataclasses
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from motor.base.errors import InvalidInput
from motor.cli import main
from motor.materials import conductor_names, former_names, magnet_names, steel_names
from motor.study.study_file import read_study
from motor.study.study_table import StudyTable
from motor.study.target import Target, price_caution
from tests.unit.study.plans import DESIGNS, ferrite

HEAD = f'design = "{DESIGNS / "door_woofer_ferrite.toml"}"\n'
SWEEP = """
[ties]
"geometry.top_plate_thickness" = "geometry.gap_depth"
[[sweep]]
"geometry.gap_depth" = { from = "5 mm", to = "6 mm", steps = 2 }
[[sweep]]
"coil.winding_height" = ["11 mm", "13 mm", "90 mm"]
"""


def study(tmp_path: Path, text: str, *options: str) -> Result:
    path = tmp_path / "study.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    command = ["study", str(path), "--out", str(tmp_path / "out"), "--workers", "1", *options]
    result = CliRunner().invoke(main, command)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_a_sweep_writes_tables_and_figures_and_is_resumed(tmp_path):
    result = study(tmp_path, SWEEP)
    assert result.exit_code == 0, result.output
    assert "6 points, 4 designs solved and 0 reused" in result.output
    assert "2 without a result" in result.output
    out = tmp_path / "out"
    names = {"study.sqlite", "results.csv", "results.json", "overview.png", "overview.svg"}
    assert names | {"answer.txt"} <= {p.name for p in out.iterdir()}
    rows = json.loads((out / "results.json").read_text())
    with (out / "results.csv").open(encoding="utf-8") as stream:
        table = list(csv.DictReader(stream))
    assert len(rows) == len(table) == 6
    assert rows[0]["geometry.gap_depth_mm"] == 5
    assert float(table[1]["bl_at_rest_Tm"]) == pytest.approx(rows[1]["bl_at_rest_Tm"], rel=1e-8)
    assert rows[2]["error"]
    (described,) = json.loads((out / "csv-metadata.json").read_text())["tables"]
    units = {c["titles"]: c.get("schema:unitText") for c in described["tableSchema"]["columns"]}
    assert list(units) == list(table[0])
    assert units["geometry.gap_depth_mm"] == "mm"
    assert units["number"] is units["error"] is None
    again = study(tmp_path, SWEEP, "--no-figures")
    assert "0 designs solved and 4 reused" in again.output


TOLERANCES = """
[tolerances]
power = 4
"factors.remanence" = 0.03
[lots.ferrite]
"factors.remanence" = 0.04
[limits]
bl_at_rest_Tm = { least = 6.0, deviation = 0.03, guard = 1.5 }
"""


def test_a_target_and_tolerances_by_file(tmp_path):
    result = study(
        tmp_path,
        """
[target]
bl_least = "5 T*m"
minimise = "mass"
[free]
"coil.winding_height" = { from = "9 mm", to = "14 mm" }
""",
    )
    assert result.exit_code == 0, result.output
    assert "The target can be met." in result.output
    assert (tmp_path / "out" / "best" / "design.toml").exists()
    assert "its lower end" in result.output
    assert "would save" not in result.output  # Bl is not what holds it there
    result = study(
        tmp_path,
        TOLERANCES,
    )
    assert result.exit_code == 0, result.output
    assert "inside all limits:" in result.output
    assert "usable linear stroke in mm: mean 4.1" in result.output
    answer = result.output.partition("by derivatives")
    shares = [float(re.findall(r"inside all limits: ([0-9.]+) %", part)[0]) for part in answer[::2]]
    assert shares[0] == pytest.approx(shares[1], abs=7)
    assert re.search(r"lot ferrite \d+ % \(\d+ %\), factors.remanence 3\d %", answer[2])
    assert "from lot to lot:" in answer[2]
    record = json.loads(study(tmp_path, TOLERANCES, "--no-figures", "--json").stdout)
    assert record["solved"] == 0
    for which in ("tests", "tests_by_derivatives"):
        test, without, *_ = record[which]
        assert test["passing"] < without["passing"]
        assert test["escapes"] < without["escapes"]
        assert test["rejected"] > without["rejected"]


def test_a_least_cost_at_invented_prices_is_warned_of():
    plain = ferrite()
    former = next(n for n in former_names() if n not in conductor_names())
    base = plain.replace(coil=dataclasses.replace(plain.coil, former_material=former))
    said = price_caution(Target(minimise={"cost": 1.0}), base)
    assert str(base.materials.magnet) in said
    assert "copper" in said
    assert price_caution(Target(minimise={"mass": 1.0}), base) == ""
    own = dict.fromkeys((*magnet_names(), *steel_names(), *conductor_names()), 3.0)
    priced = dataclasses.replace(base.materials, prices=own)
    left = price_caution(Target(minimise={"cost": 1.0}), base.replace(materials=priced))
    assert f"invented prices of {former};" in left
    priced = dataclasses.replace(priced, prices={**own, former: 9.0})
    assert price_caution(Target(minimise={"cost": 1.0}), base.replace(materials=priced)) == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "must hold one of sweep, target and tolerances"),
        (SWEEP + "[tolerances]\n", "received sweep and tolerances"),
        ('[[sweep]]\n"geometry.gap_dept" = ["1 mm"]', "did you mean geometry.gap_depth"),
        ('[[sweep]]\n"geometry.gap_depth" = []', "must take at least one value"),
        ('[[sweep]]\n"geometry.gap_depth" = [8]', "a bare number without a unit"),
        (
            '[[sweep]]\n"geometry.gap_depth" = { from = "6 mm", to = "5 mm", steps = 3 }',
            "range of geometry.gap_depth must end above its start; received 6 mm to 5 mm",
        ),
        (
            '[[sweep]]\n"geometry.gap_depth" = { from = "5 mm", to = "6 mm" }',
            "steps of geometry.gap_depth",
        ),
        ('[[sweep]]\n"geometry.gap_depth" = { to = "6 mm" }', "from must be given"),
        ("[[sweep]]\nhypercube = 3", "come with ranges"),
        ('rules = ["keep_resistence"]\n' + SWEEP, "did you mean keep_resistance"),
        ('[target]\nbl_least = "5 T"\n[free]\n', "wrong kind of unit"),
        ('[target]\nbl_leas = "5 T*m"\n[free]\n', "did you mean"),
        ('[target]\nbl_least = "5 T*m"\n', "free must name at least one parameter"),
        ("[free]\n" + SWEEP.replace("[ties]", "[ties]"), "free must come with [target]"),
        ("[tolerances]\n", "must name at least one parameter"),
        (
            '[tolerances]\n"factors.remanence" = 0.1\n[limits]\n'
            "bl_at_rest_Tm = { least = 2.0, most = 1.0 }",
            "limits.bl_at_rest_Tm must have least",
        ),
        ("nonsense", "must be valid TOML"),
    ],
)
def test_bad_study_files_say_what_is_wrong(tmp_path, text: str, words: str):
    result = study(tmp_path, text)
    assert result.exit_code == 2, result.output
    assert words in result.stderr
    assert result.stderr.startswith("error: ")
    assert result.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "out").write_text("in the way")
    result = study(tmp_path, SWEEP)
    assert result.exit_code == 1
    assert "could not be made" in result.stderr


def test_a_missing_study_or_design_is_named(tmp_path):
    with pytest.raises(InvalidInput, match="study file must exist"):
        read_study(tmp_path / "no.toml")
    (tmp_path / "a.toml").write_text('design = "no.toml"\n[[sweep]]\n"coil.layers" = [2]\n')
    with pytest.raises(InvalidInput, match="design file must exist"):
        read_study(tmp_path / "a.toml")


def test_tables_as_arrays_and_data_frame():
    table = StudyTable.of_records([{"a": 1.0, "b": "x"}, {"a": None, "c": float("inf")}])
    assert table.columns == ("a", "b", "c")
    assert table.column("c") == [None, None]
    assert table.array("a")[0] == 1.0
    with pytest.raises(InvalidInput, match="column must be one of the table's"):
        table.column("d")
    pandas = pytest.importorskip("pandas")
    frame = table.frame()
    assert isinstance(frame, pandas.DataFrame)
    assert list(frame.columns) == ["a", "b", "c"]
    assert frame["a"][0] == 1.0


def test_a_damaged_store_is_repaired_on_request_and_another_studys_refused(tmp_path):
    study(tmp_path, SWEEP, "--no-figures")
    right = json.loads((tmp_path / "out" / "results.json").read_text())
    store = tmp_path / "out" / "study.sqlite"
    data = store.read_bytes()
    place = data.index(b'"bl_at_rest_Tm": ') + 17
    store.write_bytes(data[:place] + b"9" + data[place + 1 :])
    refused = study(tmp_path, SWEEP, "--no-figures")
    assert refused.exit_code == 2
    assert re.search(r"study.sqlite: point \d differ from their checksums", refused.output)
    assert json.loads((tmp_path / "out" / "results.json").read_text()) == right
    again = study(tmp_path, SWEEP, "--no-figures", "--repair")
    assert "3 designs of" in again.output
    assert "1 designs solved and 3 reused" in again.output
    rows = json.loads((tmp_path / "out" / "results.json").read_text())
    for row, wanted in zip(rows, right, strict=True):
        assert row["error"] == wanted["error"]
        if not row["error"]:
            assert row["bl_at_rest_Tm"] == pytest.approx(wanted["bl_at_rest_Tm"], rel=1e-9)
    for command in (["study", "--workers", "1", "--out"], ["report", "--out"]):
        other = tmp_path / "other.toml"
        other.write_text(HEAD + SWEEP.replace("13 mm", "14 mm"), encoding="utf-8")
        goal = [str(tmp_path / "o.html"), "--results"] if command[0] == "report" else []
        where = [*goal, str(tmp_path / "out")]
        found = CliRunner().invoke(main, [command[0], str(other), *command[1:], *where])
        assert found.exit_code != 0
        assert "study.toml" in found.output or "of the study 'study'" in found.output


def test_a_time_limit_is_a_time_and_belongs_to_studies(tmp_path):
    (tmp_path / "study.toml").write_text(HEAD + SWEEP, encoding="utf-8")
    for limit, words in (("nan", "--time-limit must be greater than 0 s"), ("-1", "--time-limit")):
        found = study(tmp_path, SWEEP, f"--time-limit={limit}")
        assert found.exit_code == 2
        assert words in found.output
    design = str(DESIGNS / "door_woofer_ferrite.toml")
    page = ["--out", str(tmp_path / "p.html"), "--time-limit", "5"]
    found = CliRunner().invoke(main, ["report", design, *page])
    assert found.exit_code == 2
    assert "--time-limit must come with a study file" in found.output
    seen: list[dict[str, float]] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("motor.cli.report_study.report_study", lambda *_, **k: seen.append(k) or page)
        CliRunner().invoke(main, ["report", str(tmp_path / "study.toml"), *page])
    assert seen[0]["time_limit"] == 5


def test_certificates_come_together_and_with_a_scheduler(tmp_path):
    some = study(tmp_path, SWEEP, "--tls-ca", "ca.pem", "--scheduler", "tls://127.0.0.1:1")
    assert "--tls-ca, --tls-cert and --tls-key must come together" in some.output
    three = [f"--tls-{name}=x.pem" for name in ("ca", "cert", "key")]
    assert "--tls-ca must come with --scheduler" in study(tmp_path, SWEEP, *three).output
    absent = study(tmp_path, SWEEP, *three, "--scheduler", "tls://127.0.0.1:1")
    assert (absent.exit_code, "--tls-ca must be a file" in absent.output) == (2, True)
