"""Nothing is replaced that the program did not write; a folder is written as a whole or not."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from motor.base.errors import OutputError
from motor.base.whole_files import (
    MANIFEST,
    PARTIAL,
    asking,
    folder_of,
    free_to_write,
    new_text,
    own_file,
    whole_file,
    write_text,
)


def fill(folder: Path, text: str = "1", names: tuple[str, ...] = ("a.txt", "b.csv")) -> None:
    """Write some files into a folder in one step."""
    with folder_of(folder) as (work, _):
        for name in names:
            (work / name).write_text(text + "\n")


def held(folder: Path) -> dict[str, bytes]:
    """Return what a folder holds."""
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def test_own_files_are_replaced(tmp_path: Path) -> None:
    fill(tmp_path, "1")
    fill(tmp_path, "2")
    assert (tmp_path / "a.txt").read_text() == "2\n"


@pytest.mark.parametrize("name", ["a.txt", "b.csv", "csv-metadata.json"])
def test_files_of_others_stay(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    before = held(tmp_path)
    with pytest.raises(OutputError, match=f"{name} could not be written.*not written by this"):
        fill(tmp_path)
    assert held(tmp_path) == before
    with asking(force=True):
        fill(tmp_path)
    assert (tmp_path / name).read_text() != "mine"


def test_an_edited_file_is_the_users(tmp_path: Path) -> None:
    fill(tmp_path)
    (tmp_path / "a.txt").write_text("1\n# with a comment\n")
    before = held(tmp_path)
    with pytest.raises(OutputError, match=r"a\.txt could not be written: it was changed"):
        fill(tmp_path, "2")
    assert held(tmp_path) == before


def test_a_forged_or_broken_manifest_gives_nothing_away(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("mine")
    for text in ("", "[]", "{", '{"program": 1, "files": []}', '{"files": {"a.txt": 3}}'):
        (tmp_path / MANIFEST).write_text(text)
        with pytest.raises(OutputError):
            fill(tmp_path)
        with pytest.raises(OutputError, match=r"written\.json"):
            fill(tmp_path, names=("c.txt",))
    assert (tmp_path / "a.txt").read_text() == "mine"


def test_files_of_another_input_stay(tmp_path: Path) -> None:
    one, other = tmp_path / "one.toml", tmp_path / "other.toml"
    for path in (one, other):
        path.touch()
    out = tmp_path / "out"
    with asking(source=str(one)):
        fill(out)
        fill(out, "2")
    with asking(source=str(other)), pytest.raises(OutputError, match=r"belongs to \.\./one\.toml"):
        fill(out, "3")
    assert (out / "a.txt").read_text() == "2\n"


def test_an_input_is_never_replaced(tmp_path: Path) -> None:
    fill(tmp_path)
    with (
        asking(force=True, inputs=[tmp_path / "a.txt"]),
        pytest.raises(OutputError, match="it is the input"),
    ):
        fill(tmp_path)


def test_a_folder_of_the_same_name_stays(tmp_path: Path) -> None:
    (tmp_path / "b.csv").mkdir()
    with asking(force=True), pytest.raises(OutputError, match="it is a folder"):
        fill(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["b.csv"]


def test_pipes_and_devices_stay(tmp_path: Path) -> None:
    pipe = tmp_path / "a.txt"
    os.mkfifo(pipe)
    (tmp_path / "link").symlink_to("/dev/null")
    with asking(force=True):
        for path in (pipe, tmp_path / "link"):
            for write in (write_text, new_text):
                with pytest.raises(OutputError, match="no regular file"):
                    write(path, "x")
        with pytest.raises(OutputError, match="no regular file"):
            fill(tmp_path)
        with pytest.raises(OutputError, match="no regular file"):
            free_to_write(tmp_path, [], kept=["a.txt"])
    assert pipe.is_fifo()


def test_single_files(tmp_path: Path) -> None:
    path = tmp_path / "x.svg"
    write_text(path, "1")
    write_text(path, "2")
    path.write_text("mine")
    with pytest.raises(OutputError, match="changed"):
        write_text(path, "3")
    with pytest.raises(OutputError, match="exists already"):
        new_text(path, "3")
    assert path.read_text() == "mine"
    with whole_file(path) as hidden:
        hidden.write_text("4")
    assert path.read_text() == "4"
    with pytest.raises(OutputError, match="No such file"):
        write_text(tmp_path / "none" / "x.svg", "1")


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "goal").mkdir()
    goal, link = tmp_path / "goal" / "x.svg", tmp_path / "link.svg"
    write_text(goal, "1")
    link.symlink_to(goal)
    write_text(link, "2")
    assert link.is_symlink()
    assert goal.read_text() == "2"


def test_a_failing_move_leaves_the_old_state(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ("a.txt", "b.txt", "c.txt")
    fill(tmp_path, "1", names)
    before, replace = held(tmp_path), Path.replace

    def failing(self: Path, target: Path) -> Path:
        if self.parent.name == "new" and self.name == "b.txt":
            raise OSError(28, "No space left on device")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(OutputError, match="No space left"):
        fill(tmp_path, "2", (*names, "aa.txt"))
    assert held(tmp_path) == before


def test_a_failing_writer_leaves_the_old_state(tmp_path: Path) -> None:
    fill(tmp_path)
    before = held(tmp_path)

    def fail() -> None:
        with folder_of(tmp_path) as (work, _):
            (work / "a.txt").write_text("2")
            raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match="No space left"):
        fail()
    assert held(tmp_path) == before
    with pytest.raises(ZeroDivisionError), own_file(tmp_path / "n.txt"):
        _ = 1 / 0
    with pytest.raises(OutputError), folder_of(tmp_path / "p" / "q"):
        raise OSError("broken")
    assert held(tmp_path) == before


KILLED = """
import os, signal, sys
from pathlib import Path
from motor.base.whole_files import folder_of
kill_at, count, replace = sys.argv[2], [0], Path.replace
def counted(self, target):
    count[0] += 1
    if count[0] == int(kill_at):
        os.kill(os.getpid(), signal.SIGKILL)
    return replace(self, target)
Path.replace = counted
with folder_of(sys.argv[1]) as (work, _):
    for name in ("a.txt", "b.csv"):
        (work / name).write_text("2\\n")
    if kill_at == "0":
        os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.parametrize("kill_at", range(9))
def test_after_a_kill_the_next_run_finds_one_state(tmp_path: Path, kill_at: int) -> None:
    """Moves of 4 files, old and new: killed before each of the 8, and before the first."""
    fill(tmp_path, "1")
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), str(kill_at)],
        check=False,
        env=dict(os.environ, PYTHONPATH=str(Path(__file__).parents[3])),
    )
    assert ended.returncode == -signal.SIGKILL
    assert [p for p in tmp_path.iterdir() if p.name.startswith(PARTIAL)]
    fill(tmp_path, "3", ("other.txt",))
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(PARTIAL)]
    states = {(tmp_path / name).read_text() for name in ("a.txt", "b.csv")}
    assert states == ({"1\n"} if kill_at == 0 else {"2\n"})
    fill(tmp_path, "4")


def test_what_a_living_program_writes_is_left_alone(tmp_path: Path) -> None:
    with folder_of(tmp_path) as (work, _):
        (work / "slow.txt").touch()
        fill(tmp_path)
        assert (work / "slow.txt").exists()
    assert (tmp_path / "slow.txt").exists()
    files = json.loads((tmp_path / MANIFEST).read_text())["files"]
    assert {"a.txt", "slow.txt"} < set(files)


def test_folders_inside_a_folder_come_along_or_stay_out_with_it(tmp_path: Path):
    out = tmp_path / "out"

    def write(text: str, *, fail: bool = False) -> None:
        with folder_of(out) as (work, written):
            (work / "answer.txt").write_text(text)
            with folder_of(work / "best", remarks={"t.csv": "told"}) as (inner, _):
                (inner / "t.csv").write_text(f"x_mm\n{text}\n")
            if fail:
                raise RuntimeError
        names = {path.relative_to(out).as_posix() for path in written}
        assert names == {"answer.txt", "best/t.csv", "best/csv-metadata.json"}

    with pytest.raises(RuntimeError):
        write("0", fail=True)
    assert not out.exists()
    write("1")
    write("2")
    with pytest.raises(RuntimeError):
        write("3", fail=True)
    assert (out / "best" / "t.csv").read_text() == "x_mm\n2\n"
    assert "told" in (out / "best" / "csv-metadata.json").read_text()
    (out / "best" / "t.csv").write_text("mine")
    with pytest.raises(OutputError, match=r"best/t.csv could not be written: it was changed"):
        write("4")
    assert (out / "answer.txt").read_text() == "2"
    assert not [path for path in out.rglob("*") if ".partial" in path.name]
