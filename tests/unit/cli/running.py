"""The command in this process, and in processes of its own: with pipes, and at a terminal."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

from click.testing import CliRunner, Result

from motor.cli import main

ROOT = Path(__file__).parents[3]
DESIGN = ROOT / "studies" / "designs" / "door_woofer_ferrite.toml"
COMMAND = (sys.executable, "-m", "motor")
CTRL_C = b"\x03"
LONGEST = 120.0
"""Seconds after which a command that hangs fails its test."""


def environment(**more: str) -> dict[str, str]:
    """Return this process's environment without what switches colours."""
    left_out = {"NO_COLOR", "FORCE_COLOR", "COLUMNS"}
    kept = {k: v for k, v in os.environ.items() if k not in left_out}
    return {**kept, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", **more}


def ran(*arguments: str | Path) -> Result:
    """Run a command in this process, for what it prints; :func:`piped` is about streams.

    Nothing but an exit may come out of it.
    """
    result = CliRunner().invoke(main, [str(a) for a in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def piped(*arguments: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Run the command with its output in pipes."""
    return subprocess.run(
        [*COMMAND, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        env=environment(**more),
        timeout=LONGEST,
    )


def at_terminal(
    *arguments: str | Path, stop_at: bytes | None = None, **more: str
) -> tuple[int, bytes]:
    """Run the command at a terminal; type Ctrl-C once its output holds ``stop_at``.

    Returns
    -------
    int, bytes
        Exit code, and all that the terminal was sent.
    """
    pid, terminal = pty.fork()
    if pid == 0:
        os.execve(sys.executable, [*COMMAND, *map(str, arguments)], environment(**more))
    shown = b""
    end = time.monotonic() + LONGEST
    while time.monotonic() < end:
        if not select.select([terminal], [], [], 0.05)[0]:
            continue
        try:
            piece = os.read(terminal, 65536)
        except OSError:
            break
        if not piece:
            break
        shown += piece
        if stop_at is not None and stop_at in shown:
            os.write(terminal, CTRL_C)
            stop_at = None
    os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), shown
