"""One record per figure: an entry more is seen everywhere."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from motor.base.errors import InvalidInput
from motor.base.quantity import COLUMN_UNITS, Line, Quantity
from motor.base.whole_files import folder_of
from motor.design.reading import write_design
from motor.field.field import Estimate
from motor.report.labels import label_of
from motor.report.page.design.result_grids import key_figures, live_rows
from motor.report.page.study.collect import studied
from motor.report.page.study.columns import columns_of, hovered
from motor.report.page.study.shortlist import goals_of
from motor.results import quantities
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import all_quantities, column_words, motor_quantities
from motor.study.derivatives import derivatives
from motor.study.differencing import sloped
from motor.study.processes import Here
from motor.study.study_file import read_study
from motor.study.target import Target
from tests.unit.design.drawn import drawn_design

EXTRA: Quantity[MotorResult] = Quantity(
    name="half_bl",
    unit="Tm",
    words="half of Bl",
    read=lambda r: Estimate(r.bl_curve.at_rest.value / 2, r.bl_curve.at_rest.uncertainty / 2),
    uncertain=True,
    material=True,
    criterion="Bl at rest over two",
    better="less",
    offered=4,
    head=7,
    best="least half Bl",
    hover=True,
    line=Line("Motor", "half Bl"),
    live="half",
    slope="field",
    kind="force_factor",
)
KEY = "half_bl_Tm"
STUDY = """
design = "motor.toml"
[[sweep]]
"coil.winding_height" = ["11 mm", "12 mm"]
"""


@pytest.fixture(scope="module")
def solved() -> MotorResult:
    """Return the drawn motor."""
    return solve(drawn_design())


@pytest.fixture
def extra(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Add a figure to the list, and to what was made of it."""
    made = (quantities._by_key, sloped)
    with monkeypatch.context() as patch:
        patch.setattr(quantities, "QUANTITIES", (*quantities.QUANTITIES, EXTRA))
        for each in made:
            each.cache_clear()
        yield
    for each in made:
        each.cache_clear()


def test_names_are_unique_and_their_units_known() -> None:
    keys = [key for q in all_quantities() for key in q.keys]
    assert len(keys) == len(set(keys))
    assert all(q.unit in COLUMN_UNITS for q in all_quantities())
    assert all(q.line is None or (q.line.unit or "") in COLUMN_UNITS for q in all_quantities())


@pytest.mark.usefixtures("extra")
def test_a_figure_more_stands_in_summary_table_page_and_derivatives(solved: MotorResult) -> None:
    bl, record = solved.bl_curve.at_rest, solved.summary()
    assert record[KEY] == bl.value / 2
    assert record["half_bl_uncertainty_Tm"] == bl.uncertainty / 2
    assert record["half_bl_material_uncertainty_Tm"] == 0
    line = next(row for row in solved.report().splitlines() if "half Bl" in row)
    assert line.split()[2] == f"{bl.value / 2:#.4g}"
    live = next(row for row in live_rows(solved) if row["key"] == "half")
    assert live == {
        "key": "half",
        "what": "half Bl",
        "unit": "T m",
        "value": f"{bl.value / 2:#.4g}",
    }
    assert key_figures(solved)[-1][:2] == ("half of Bl", f"{bl.value / 2:#.4g}")
    found = derivatives(solved, ["coil.winding_height"])
    whole = found.of("bl_at_rest_Tm", "coil.winding_height")
    half = found.of(KEY, "coil.winding_height")
    assert half.derivative == pytest.approx(whole.derivative / 2)
    assert half.unit == "T m/mm"


@pytest.mark.usefixtures("extra")
def test_a_figure_more_stands_in_a_study_its_metadata_and_its_page(tmp_path: Path) -> None:
    write_design(drawn_design(), tmp_path / "motor.toml")
    (tmp_path / "study.toml").write_text(STUDY)
    found = studied(read_study(tmp_path / "study.toml"), tmp_path / "store.sqlite", engine=Here())
    with folder_of(tmp_path / "out", columns=column_words()) as (work, _):
        found.table.save(work / "results")
    half, whole = found.table.array(KEY), found.table.array("bl_at_rest_Tm")
    np.testing.assert_array_equal(half, whole / 2)
    column = next(c for c in columns_of(found) if c.key == KEY)
    assert (column.label, column.group, column.less) == ("half of Bl in T m", "result", True)
    assert column.spread == "half_bl_uncertainty_Tm"
    tables = json.loads((tmp_path / "out" / "csv-metadata.json").read_text())["tables"]
    columns = {c["titles"]: c for c in tables[0]["tableSchema"]["columns"]}
    assert columns[KEY]["dc:description"] == "half of Bl: Bl at rest over two"
    assert columns["half_bl_uncertainty_Tm"]["schema:unitText"] == "T m"
    assert KEY in hovered()
    best = {goal.best: number for goal, number in goals_of(found)}
    assert best["least half Bl"] == np.argmin(half)
    assert label_of(KEY) == column.label


def test_an_uncertainty_that_is_not_known_is_null() -> None:
    fast = solve(drawn_design(), uncertainty=False)
    for quantity in motor_quantities():
        if quantity.uncertain:
            value, doubt = quantity.reading(fast)
            assert value is None or math.isnan(doubt) or doubt == 0 or math.isinf(value), quantity
            assert json.dumps(quantity.record(fast), allow_nan=False)


def test_units_convert_as_their_names_say() -> None:
    for key, value in {"mm": 1e3, "kA_per_m": 1e-3, "uT": 1e6, "percent": 100, "cm3": 1e6}.items():
        assert COLUMN_UNITS[key].of_si(1.0) == value


@pytest.mark.usefixtures("extra")
def test_a_target_may_limit_a_figure_more_and_names_it(tmp_path: Path) -> None:
    write_design(drawn_design(), tmp_path / "motor.toml")
    text = 'design = "motor.toml"\n[target]\n{}\n[free]\n"coil.winding_height" = {}\n'
    free = '{ from = "11 mm", to = "13 mm" }'

    def target(line: str) -> Target:
        (tmp_path / "study.toml").write_text(text.format(line, free))
        problem = read_study(tmp_path / "study.toml").problem
        assert problem is not None
        return problem.target

    asked = target('half_bl_most = "1.5 T*m"\nstray_field_at_100_mm_most = "0.5 mT"')
    stray, half = asked.requirements({KEY: 1.8, "stray_field_at_100_mm_uT": 400.0})
    assert half.sentence() == "half of Bl must be at most 1.5 T m; reached 1.8 T m (20.0 % short)"
    assert (stray.limit, stray.unit, stray.slack) == (500.0, "µT", pytest.approx(0.2))
    with pytest.raises(InvalidInput, match="half_bl_least must be at most half_bl_most"):
        target('half_bl_least = "3 T*m"\nhalf_bl_most = "2 T*m"')
    with pytest.raises(InvalidInput, match="half_bl_most"):
        target('half_bl_msot = "2 T*m"')
    with pytest.raises(InvalidInput, match="half_bl_most must be a force factor"):
        target('half_bl_most = "2 mm"')
