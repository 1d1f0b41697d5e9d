"""Measurement files and their tables: what can be read, and errors with line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import motor
from motor.base.errors import InvalidInput
from motor.study.measurements import Measurements, read_measurements

DESIGN = motor.starter("outside-magnet").replace(
    moving_parts=motor.MovingParts(mass=0.01, stiffness=1000.0, mechanical_resistance=1.0)
)
HEAD = '[unknowns]\n"factors.remanence" = 0.03\n[[measurement]]\nkind = "bl"\nfile = "t.csv"\n'
GOOD = HEAD + 'deviation = "0.5 %"\n'


def _read(folder: Path, table: str, text: str = GOOD) -> Measurements:
    (folder / "t.csv").write_text(table)
    (folder / "m.toml").write_text(text)
    return read_measurements(folder / "m.toml", DESIGN)


@pytest.mark.parametrize(
    "table",
    [
        "x_mm,bl_Tm\n-1,6\n1,6.1\n",
        "# from the rig\nbl_N_per_A;x (m)\n6;-1e-3\n\n6.1;1e-3\n",
        "x [um]\tother\tBL [N/A]\n-1000\tyes\t6\n1000\tno\t6.1\n",
    ],
)
def test_heads_carry_units(tmp_path: Path, table: str) -> None:
    taken = _read(tmp_path, table).taken[0]
    assert taken.along["x"] == pytest.approx([-1e-3, 1e-3])
    assert taken.values == pytest.approx([6, 6.1])
    assert taken.deviation == pytest.approx(0.005 * 6.1)


def test_columns_are_mapped(tmp_path: Path) -> None:
    more = 'columns = { x = "position (mm)", bl = "force factor (N/A)" }\n'
    found = _read(tmp_path, "position (mm),force factor (N/A)\n-1,6\n1,6\n", GOOD + more)
    assert found.taken[0].values == pytest.approx([6, 6])


@pytest.mark.parametrize(
    ("table", "place"),
    [
        ("x_mm,bl_Tm\n1,6\n2,nan\n", "line 3, column 2"),
        ("x_mm,bl_Tm\n1,6\n2,six\n", "line 3, column 2"),
        ("x_mm,bl_Tm\n1,6\n\n2\n", "line 4, column 2"),
        ("x,bl_Tm\n1,6\n", "column x with its unit"),
        ("x_mm,bl_ohm\n1,6\n", "column bl with its unit"),
        ("x_mm,bl_Tm\n", "rows below its head"),
        ("x_mm,bl_Tm\n1,0,6,1\n", "line 2 must hold 2 cells"),
        ("", "have a head"),
    ],
)
def test_bad_tables_are_refused_with_their_place(tmp_path: Path, table: str, place: str) -> None:
    with pytest.raises(InvalidInput, match=place):
        _read(tmp_path, table)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD, "deviation must be given"),
        (GOOD.replace('"bl"', '"blx"'), "kind of measurement"),
        (GOOD.replace("factors.remanence", "factors.remanance"), "factors.remanence"),
        (GOOD.replace("0.03", "0.0"), "greater than 0"),
        (GOOD.replace("0.03", '"a lot"'), "unknowns.factors.remanence"),
        (GOOD.replace('"factors.remanence" = 0.03', '"temperature" = "1 K"'), "temperature"),
        (GOOD + 'gain = "200 %"\n', "between 0 and 1"),
        (GOOD + 'radius = "1 mm"\n', "radius"),
        (GOOD.split("[[")[0], "list"),
        (GOOD + GOOD.split("3\n")[1].replace("kind", 'name = "bl 1"\nkind'), "differ"),
    ],
)
def test_bad_files_are_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        _read(tmp_path, "x_mm,bl_Tm\n1,6\n2,6\n", text)


IMPEDANCE = GOOD.replace('"bl"', '"impedance"')


@pytest.mark.parametrize(
    ("table", "values"),
    [
        ("frequency_Hz,magnitude_ohm,phase_deg\n10,5,90\n20,6,0\n", [0, 6, 5, 0]),
        ("f (kHz),frequency_Hz,real_ohm,imaginary_ohm\n1,10,3,4\n2,20,6,0\n", [3, 6, 4, 0]),
        ("frequency_Hz,magnitude_ohm\n10,5\n20,6\n", [5, 6]),
    ],
)
def test_impedance_in_either_form(tmp_path: Path, table: str, values: list[float]) -> None:
    taken = _read(tmp_path, table, IMPEDANCE).taken[0]
    assert taken.values == pytest.approx(values, abs=1e-12)
    assert taken.deviation == pytest.approx(0.005 * np.tile([5, 6], len(values) // 2))
    assert taken.settings == {"inductance": 0.02}
    low = taken.having(taken.along["frequency"] < 15)
    assert low.deviation == pytest.approx(np.full(len(low.values), 0.025))


@pytest.mark.parametrize(
    "table",
    [
        "frequency_Hz,phase_deg\n10,5\n",
        "frequency_Hz,real_ohm\n10,5\n",
        "frequency_Hz,magnitude_ohm\n0,5\n",
    ],
)
def test_half_an_impedance_is_refused(tmp_path: Path, table: str) -> None:
    with pytest.raises(InvalidInput):
        _read(tmp_path, table, IMPEDANCE)


def test_an_impedance_makes_what_moves_unknown_unless_it_is_named(tmp_path: Path) -> None:
    table = "frequency_Hz,magnitude_ohm\n10,5\n20,6\n"
    moving = ["moving_parts.mass", "moving_parts.mechanical_resistance"]
    _, *found = _read(tmp_path, table, IMPEDANCE).unknowns
    assert [u.name for u in found] == ["factors.stiffness", *moving]
    assert [u.deviation for u in found[::2]] == pytest.approx([0.1, 0.3])
    named = '"moving_parts.stiffness" = "50 N/m"\n"moving_parts.mass" = "0.1 g"\n[[meas'
    own = _read(tmp_path, table, IMPEDANCE.replace("[[meas", named)).unknowns
    assert [u.name for u in own[1:]] == ["moving_parts.stiffness", *moving]
    assert own[2].deviation == pytest.approx(1e-4)
    assert len(_read(tmp_path, "x_mm,bl_Tm\n1,6\n").unknowns) == 1


def test_values_and_settings(tmp_path: Path) -> None:
    text = GOOD + (
        '[[measurement]]\nkind = "mass"\nof = "coil"\nvalue = "4 g"\ndeviation = "1 %"\n'
        '[[measurement]]\nkind = "dimension"\nof = "geometry.gap_width"\n'
        'value = "1.4 mm"\ndeviation = "0.02 mm"\n'
    )
    _, mass, gap = _read(tmp_path, "x_mm,bl_Tm\n1,6\n", text).taken
    assert (mass.values, mass.deviation) == (np.array([4e-3]), pytest.approx(4e-5))
    assert (gap.values, gap.deviation) == (np.array([1.4e-3]), 2e-5)


def test_tolerances_of_a_study_are_priors(tmp_path: Path) -> None:
    motor.write_design(DESIGN, tmp_path / "d.toml")
    study = 'design = "d.toml"\n[tolerances]\n"factors.remanence" = 0.03\n'
    study += '"coil.rest_position" = { width = "0.3 mm", shape = "normal" }\n'
    (tmp_path / "p.toml").write_text(study)
    text = 'tolerances = "p.toml"\n' + GOOD.partition("0.03\n")[2]
    found = {u.name: u.deviation for u in _read(tmp_path, "x_mm,bl_Tm\n1,6\n", text).unknowns}
    assert found == pytest.approx({"factors.remanence": 0.03 / 3**0.5, "coil.rest_position": 1e-4})
