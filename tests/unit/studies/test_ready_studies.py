"""How a ready study ends when it cannot go on."""

from __future__ import annotations

import pytest

import motor
from motor.base.errors import InvalidInput, SolveError
from motor.study.fitting import fit
from motor.study.measurements import read_measurements
from studies.invented_sample import DESIGN, SAMPLES, TRUTH
from studies.options import as_command


@pytest.mark.parametrize(
    ("problem", "code", "line"),
    [
        (InvalidInput("--out", "be a folder", "x"), 2, "error: --out must be a folder; received x"),
        (SolveError("no field"), 1, "error: no field"),
        (KeyboardInterrupt(), 130, "stopped"),
    ],
    ids=["input", "failure", "stopped"],
)
def test_trouble_is_one_line_and_a_code(
    problem: BaseException, code: int, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def main() -> None:
        raise problem

    with pytest.raises(SystemExit) as ended:
        as_command(main)
    assert ended.value.code == code
    out, err = capsys.readouterr()
    assert (out, err.strip()) == ("", line)


def test_the_first_sample_is_found_behind_its_measurements() -> None:
    design = motor.read_design(DESIGN)
    found = fit(design, read_measurements(SAMPLES / "first_sample.toml", design))
    assert {one.name for one in found.unknowns} == set(TRUTH)
    for one in found.unknowns:
        assert abs(one.estimate - TRUTH[one.name]) < 3 * one.deviation, one
    assert [one.verdict for one in found.unknowns].count("no") == 1
    assert [int(r.outliers.sum()) for r in found.residuals] == [1, 1, 0]
