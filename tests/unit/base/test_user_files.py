"""Files that a user names: what is no file, no table or no TOML is refused, and never quoted."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from geometries import InvalidInput
from motor.base.user_files import numbered_rows, parse_toml, read_text, read_toml
from motor.design.reading import read_design
from motor.driver.measured import read_measured_bl
from motor.materials.own import read_curve
from motor.study.study_file import read_study

SECRET = "root:secret:19000:0:99999:7:::"
READERS: tuple[Callable[[Path], object], ...] = (
    read_design,
    read_study,
    read_measured_bl,
    read_curve,
)


@pytest.mark.parametrize("read", READERS)
def test_file_that_is_no_table_is_not_quoted(
    read: Callable[[Path], object], tmp_path: Path
) -> None:
    path = tmp_path / "shadow"
    path.write_text(f"{SECRET}\n{SECRET}\n", encoding="utf-8")
    with pytest.raises(InvalidInput) as caught:
        read(path)
    assert "secret" not in str(caught.value)


@pytest.mark.parametrize("read", READERS)
def test_device_and_pipe_are_refused_at_once(
    read: Callable[[Path], object], tmp_path: Path
) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(InvalidInput, match=r"must be a regular file; received .*device"):
            read(path)


@pytest.mark.parametrize("read", READERS)
def test_file_of_a_gigabyte_is_refused_by_its_size(
    read: Callable[[Path], object], tmp_path: Path
) -> None:
    path = tmp_path / "large"
    with path.open("wb") as stream:
        stream.truncate(1_000_000_000)
    with pytest.raises(InvalidInput, match=r"must be at most .* MB long; received .*1e\+03 MB"):
        read(path)


def test_byte_order_mark_is_no_letter(tmp_path: Path) -> None:
    path = tmp_path / "marked"
    path.write_bytes(b"\xef\xbb\xbfb_T,h_A_m\n0.5,100\n")
    assert read_curve(path) == ((0.5,), (100.0,))
    path.write_bytes(b'\xef\xbb\xbfname = "a"\n')
    assert read_toml(path, "file") == {"name": "a"}
    path.write_bytes(b"\xef\xbb\xbfx_mm;bl_Tm\n-1;5\n0;6\n1;5.5\n2;4\n")
    assert read_measured_bl(path).at_rest == 6.0


@pytest.mark.parametrize("row", ["1," + "9" * 200_000, '"' + "9" * 200_000, "1\0,2"])
def test_long_cells_end_in_a_short_line(row: str, tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    path.write_text(f"b_T,h_A_m\n{row}\n", encoding="utf-8")
    with pytest.raises(InvalidInput, match="line 2 must ") as caught:
        read_curve(path)
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a = 0x" + "f" * 5000, "a must be a number of at most 64 bits"),
        ("a = 1" + "0" * 5000, "must be valid TOML; received a number of too many digits"),
        ("a = 1" + "0" * 400, "a must be a number of at most 64 bits"),
        ("a = inf", "a must be a finite number; received inf"),
        ("[b]\nc = [1, nan]", "b.c must be a finite number; received nan"),
        ("range_mm = [nan, 1]", "range_mm must be a finite number"),
        ('name = "a\\nb"', "name must be printable text on one line; received text with a line b"),
        ('name = "a\\u001b[31m"', "name must be printable text on one line; received text with a"),
        ('"a\\u001b" = 1', "must be printable text on one line"),
        (f'name = "{"a" * 2000}"', "name must have at most 1000 letters; received 2000 letters"),
        ("a = " + "[" * 5000, "must be valid TOML; received nesting too deep"),
    ],
)
def test_values_that_nothing_can_use(text: str, expected: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_toml(text, "design file")
    message = str(caught.value)
    assert expected in message
    assert len(message) < 300
    assert message.isprintable()


def test_range_of_a_polynomial_may_be_endless_and_notes_have_lines() -> None:
    assert parse_toml("range_mm = [-inf, inf]", "file")["range_mm"][1] > 0
    assert parse_toml('notes = "a\\nb"', "file") == {"notes": "a\nb"}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a = 1\nb = 2\na = 3\n", "key 'a' on line 1 and again on line 3"),
        ("[s]\na = 1\n[t]\na = 1\n[s]\n", "section [s] on line 1 and again on line 5"),
        ("[s]\na = 1\n# a = 2\n[t]\na = 1\na = 4", "key 'a' in [t] on line 5 and again on line 6"),
    ],
)
def test_what_stands_twice_is_named_with_both_lines(text: str, expected: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_toml(text, "design file")
    assert str(caught.value) == f"design file must be valid TOML; received {expected}"


def test_rows_keep_their_line_numbers() -> None:
    text = "# head\n\na;b\n 1 ; 2,5\n# no\n3;4\n"
    assert list(numbered_rows(text, "table")) == [
        (3, ["a", "b"]),
        (4, ["1", "2,5"]),
        (6, ["3", "4"]),
    ]


def test_text_of_another_encoding(tmp_path: Path) -> None:
    path = tmp_path / "latin"
    path.write_bytes("Größe".encode("latin-1"))
    with pytest.raises(InvalidInput, match="must be UTF-8 text"):
        read_text(path, "table")
