"""How a ready study ends when it cannot go on."""

from __future__ import annotations

import pytest

from motor.base.errors import InvalidInput, SolveError
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
