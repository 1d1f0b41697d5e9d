"""Two pieces of work at once: files appear, errors are raised here."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from motor.base import beside as module
from motor.base.beside import beside


@pytest.fixture(params=[True, False], ids=["copy", "in turn"])
def copied(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    monkeypatch.setattr(module, "_worthwhile", lambda: request.param)
    return bool(request.param)


def test_both_are_done_each_in_its_process(copied: bool, tmp_path: Path) -> None:
    def write(name: str) -> None:
        (tmp_path / name).write_text(str(os.getpid()))

    beside(lambda: write("other"), lambda: write("here"))
    assert (tmp_path / "here").read_text() == str(os.getpid())
    assert ((tmp_path / "other").read_text() != str(os.getpid())) is copied


def test_what_fails_in_the_copy_is_raised_here(
    copied: bool, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    def fail() -> None:
        raise OSError("no room")

    with pytest.raises(OSError, match="no room"):
        beside(fail, lambda: (tmp_path / "here").touch())
    assert (tmp_path / "here").exists() is copied
    assert not any(capfd.readouterr())


def test_not_beside_other_threads() -> None:
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        assert not module._worthwhile()
    finally:
        done.set()
        thread.join()
