"""Completion in a real bash; the other shells' scripts."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from geometries import registered
from motor.report.tables.catalogue_record import families, material_names
from tests.unit.cli.running import ROOT, environment, piped


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a command ``motor``, designs, other files, and folders."""
    program = tmp_path / "bin" / "motor"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m motor "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    (tmp_path / "work" / "designs").mkdir(parents=True)
    for name in ("mine.toml", "notes.txt", "designs/a.toml", "designs/b.toml"):
        (tmp_path / "work" / name).write_text("")
    return tmp_path


def completed(folder: Path, *words: str) -> list[str]:
    """Return what bash offers for the last of the words."""
    quoted = " ".join(f"'{word}'" for word in ("motor", *words))
    script = (
        'eval "$(motor completion bash)"\ncomplete -p motor >/dev/null || exit 9\n'
        f"COMP_WORDS=({quoted}); COMP_CWORD={len(words)}\n"
        "_motor_completion motor 2>/dev/null\nprintf '%s\\n' \"${COMPREPLY[@]}\"\n"
    )
    done = subprocess.run(
        ["bash", "--norc", "-c", script],
        capture_output=True,
        text=True,
        check=True,
        cwd=folder / "work",
        env=environment(PATH=f"{folder / 'bin'}:/usr/bin:/bin"),
    )
    return done.stdout.split()


def test_bash_completes_commands_options_and_choices(folder: Path) -> None:
    assert completed(folder, "so") == ["solve"]
    assert completed(folder, "solve", "--th") == ["--theme"]
    assert completed(folder, "solve", "--theme", "") == ["light", "print"]
    assert completed(folder, "wire", "mine.toml", "--series", "a") == ["awg"]


def test_bash_completes_materials_and_geometries(folder: Path) -> None:
    assert sorted(completed(folder, "materials", "")) == sorted([*material_names(), *families()])
    assert completed(folder, "materials", "n4") == [n for n in material_names() if n[:2] == "N4"]
    assert completed(folder, "new", "") == [*sorted(registered()), "study"]


def test_bash_completes_designs_and_the_way_to_them(folder: Path) -> None:
    assert completed(folder, "solve", "") == ["designs/", "mine.toml"]
    assert completed(folder, "draw", "designs/") == ["designs/a.toml", "designs/b.toml"]
    assert completed(folder, "solve", "no/where/") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_scripts_are_complete(shell: str) -> None:
    done = piped("completion", shell)
    assert done.returncode == 0
    assert f"_MOTOR_COMPLETE={shell}_complete" in done.stdout
    assert str(ROOT) not in done.stdout
