"""Tables stay plain; what they hold and who wrote them stands beside them."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from motor.base.csv_metadata import METADATA
from motor.base.errors import OutputError
from motor.base.program import NAME, stamp, version
from motor.base.quantity import COLUMN_UNITS
from motor.base.whole_files import MANIFEST, asking, folder_of
from motor.report.files.folder import save
from motor.results.motor_result import MotorResult


def described(folder: Path) -> dict[str, Any]:
    """Return the description of each table by its file name."""
    record = json.loads((folder / METADATA).read_text(encoding="utf-8"))
    assert record["@context"][0] == "http://www.w3.org/ns/csvw"
    return {table["url"]: table for table in record["tables"]}


def write(folder: Path, remarks: dict[str, str] | None = None, **tables: str) -> None:
    """Write tables of one row of zeros by their headers."""
    with folder_of(folder, remarks=remarks) as (work, _):
        for name, header in tables.items():
            zeros = ",".join("0" for _ in header.split(","))
            (work / f"{name}.csv").write_text(f"{header}\n{zeros}\n", encoding="utf-8")


def test_every_table_of_a_result_is_plain_and_described(
    solved: Callable[[str], MotorResult], tmp_path: Path
) -> None:
    save(solved("outside-magnet"), tmp_path, pictures=False)
    tables = described(tmp_path)
    assert set(tables) == {path.name for path in tmp_path.glob("*.csv")} >= {"bl_curve.csv"}
    for name, table in tables.items():
        assert table["dc:creator"] == stamp()
        columns = table["tableSchema"]["columns"]
        frame = pd.read_csv(tmp_path / name)
        assert list(frame.columns) == [column["titles"] for column in columns]
        assert all(kind.kind == "f" for kind in frame.dtypes)
        assert all(
            column["schema:unitText"] in {u.plain for u in COLUMN_UNITS.values()}
            for column in columns
        )
        array = np.genfromtxt(tmp_path / name, delimiter=",", names=True)
        assert array.dtype.names == tuple(frame.columns)
        np.testing.assert_array_equal(array[frame.columns[0]], frame.iloc[:, 0])
        plain = np.loadtxt(tmp_path / name, delimiter=",", skiprows=1)
        assert plain.shape == frame.shape


@pytest.mark.parametrize(
    ("column", "unit"),
    [
        ("x_mm", "mm"),
        ("bl_Tm", "T m"),
        ("bl_uncertainty_Tm", "T m"),
        ("stiffness_N_per_mm", "N/mm"),
        ("motor_constant_N2_per_W", "N2/W"),
        ("field_kA_per_m", "kA/m"),
        ("turns", None),
        ("power_of_x_mm", None),
        ("mm", None),
        ("limited_by", None),
        ("thd", None),
    ],
)
def test_unit_of_a_column(column: str, unit: str | None, tmp_path: Path) -> None:
    write(tmp_path, t=column)
    (found,) = described(tmp_path)["t.csv"]["tableSchema"]["columns"]
    assert found == ({"titles": column} | ({"schema:unitText": unit} if unit else {}))


def test_tables_of_an_earlier_run_stay_described(tmp_path: Path) -> None:
    write(tmp_path, remarks={"a.csv": "first"}, a="x_mm", b="z_mm")
    write(tmp_path, b="b_T,c_W", c="f_Hz")
    tables = described(tmp_path)
    assert list(tables) == ["a.csv", "b.csv", "c.csv"]
    assert tables["a.csv"]["dc:description"] == "first"
    assert [c["titles"] for c in tables["b.csv"]["tableSchema"]["columns"]] == ["b_T", "c_W"]
    (tmp_path / "a.csv").unlink()
    write(tmp_path, c="f_Hz")
    assert list(described(tmp_path)) == ["b.csv", "c.csv"]


@pytest.mark.parametrize("text", ["", "[]", '{"tables": 3}', '{"tables": [1]}', "\xff"])
def test_a_spoilt_description_is_written_anew_on_request(text: str, tmp_path: Path) -> None:
    (tmp_path / METADATA).write_text(text, encoding="latin-1")
    with pytest.raises(OutputError, match=METADATA):
        write(tmp_path, a="x_mm")
    with asking(force=True):
        write(tmp_path, a="x_mm")
    assert list(described(tmp_path)) == ["a.csv"]


def test_a_folder_without_tables_has_no_description(tmp_path: Path) -> None:
    with folder_of(tmp_path) as (work, _):
        (work / "a.txt").write_text("a", encoding="utf-8")
    assert {path.name for path in tmp_path.iterdir()} == {"a.txt", MANIFEST}


def test_every_other_file_names_its_program(
    solved: Callable[[str], MotorResult], tmp_path: Path
) -> None:
    written = save(solved("inside-magnet"), tmp_path)
    summary = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))
    assert list(summary)[:2] == ["program", "version"]
    assert (summary["program"], summary["version"]) == (NAME, version())
    for path in written:
        if path.suffix == ".csv":
            with path.open(encoding="utf-8", newline="") as stream:
                assert re.fullmatch(r"[a-z]", next(csv.reader(stream))[0][0])
        elif path.name not in ("summary.json", "field.vtu"):
            assert stamp().encode() in path.read_bytes(), path.name
