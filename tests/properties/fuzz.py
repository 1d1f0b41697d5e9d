"""Thousands of wrong files, names, damaged stores and kills: python -m tests.properties.fuzz.

Whatever comes in, what comes out is a result or one of the program's own errors in one line, and
what was whole before is whole after.  ``--cases`` says how many, ``--seed`` which; the table at
the end says what became of them, and each failure's area and number repeat it::

    python -m tests.properties.fuzz --area design --seed 1 --only 4711
"""

from __future__ import annotations

import argparse
import dataclasses
import io
import json
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import wave
import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from geometries import registered
from motor.base.errors import InvalidInput, MotorError
from motor.cli import main as motor_command
from motor.design.dxf_outlines import read_dxf
from motor.design.reading import design_from_toml, design_to_toml, read_design
from motor.design.starters import starter
from motor.driver.measured import read_measured_bl
from motor.driver.programme import read_wav
from motor.materials.own import read_curve
from motor.report.files.dxf import write_dxf
from motor.results.motor_result import solve
from motor.study.study_file import read_study
from tests.properties.fuzz_stores import killed_folder, killed_store, store
from tests.properties.mutation import (
    DESIGNS,
    NAMES,
    NUMBERS,
    QUANTITIES,
    STUDIES,
    bytes_of,
    mutated_toml,
    refused,
)

__all__ = ["AREAS", "Area", "run_case"]

PLANS = sorted((STUDIES / "plans").glob("*.toml"))
STEEL = Path(__file__).parents[2] / "motor" / "materials" / "tables" / "mild-steel-1008.csv"
MEASURED = "x_mm,bl_Tm\n" + "".join(f"{x},{6 - 0.01 * x * x:.3f}\n" for x in range(-10, 11))
LIMIT = 20
"""Seconds after which a case counts as hung."""
MEMORY = 6 * 2**30
"""Bytes that the long run may use; what asks for more is a failure."""


def _reading(read: Callable[[Path], Any], path: Path, data: bytes) -> tuple[str, Any]:
    path.write_bytes(data)
    try:
        return "read", read(path)
    except InvalidInput as error:
        return refused(error), None


def design_file(draw: random.Random, folder: Path) -> str:
    """Read a design file: if that can be done, it is written and read back the same."""
    kinds = sorted(registered())
    texts = [*(p.read_text("utf-8") for p in DESIGNS), *(design_to_toml(starter(k)) for k in kinds)]
    said, design = _reading(read_design, folder / "d.toml", mutated_toml(draw, draw.choice(texts)))
    if design is not None:
        assert design_from_toml(design_to_toml(design)) == design
    return said


def study_file(draw: random.Random, folder: Path) -> str:
    """Read a study file with its design beside it."""
    text = draw.choice(PLANS).read_text("utf-8").replace("../designs", str(STUDIES / "designs"))
    return _reading(read_study, folder / "s.toml", mutated_toml(draw, text))[0]


def table_file(draw: random.Random, folder: Path) -> str:
    """Read measured Bl(x), a steel's curve, or a recording."""
    sound = io.BytesIO()
    with wave.open(sound, "wb") as stream:
        stream.setnchannels(draw.choice([1, 2]))
        stream.setsampwidth(draw.choice([1, 2, 4]))
        stream.setframerate(draw.choice([1, 8000, 44100, 2**28]))
        stream.writeframes(bytes(range(256)) * 4)
    read, data = draw.choice(
        [
            (read_measured_bl, MEASURED.encode()),
            (read_curve, STEEL.read_bytes()),
            (read_wav, sound.getvalue()),
        ]
    )
    if read is not read_wav and draw.random() < 0.6:
        rows = [line.split(",") for line in data.decode().splitlines()]
        for _ in range(draw.randint(1, 4)):
            row = draw.choice(rows)
            row[draw.randrange(len(row))] = str(draw.choice([*NUMBERS, *QUANTITIES, *NAMES]))
        data = "\n".join(map(",".join, rows)).encode()
    else:
        data = bytes_of(draw, data)
    return _reading(read, folder / "table", data)[0]


def drawing(draw: random.Random, folder: Path) -> str:
    """Read a drawing whose numbers, lines or bytes are changed."""
    path = folder / "d.dxf"
    write_dxf(read_design(DESIGNS[0]), path)
    lines = path.read_text("utf-8").splitlines()
    places = [n for n, line in enumerate(lines) if line.startswith("LWPOLYLINE")]
    if draw.random() < 0.3:
        return _reading(read_dxf, path, bytes_of(draw, path.read_bytes()))[0]
    for _ in range(draw.randint(1, 5)):
        at = draw.choice(places) + draw.randrange(60)
        word = str(draw.choice([*NUMBERS, *NAMES[:24]]))
        lines[min(at, len(lines) - 1)] = draw.choice([word, f"{draw.uniform(-99, 99):.6f}"])
    return _reading(read_dxf, path, "\n".join(lines).encode())[0]


def names(draw: random.Random, folder: Path) -> str:
    """Draw a design with a name and notes: through file, drawing and terminal."""
    text = draw.choice(DESIGNS).read_text("utf-8")
    name, note = draw.choice(NAMES), draw.choice(NAMES)
    path = folder / "d.toml"
    lines = [s for s in text.splitlines() if not s.startswith(("name", "notes"))]
    head = [f"name = {json.dumps(name, ensure_ascii=False)}", f"notes = {json.dumps(note)}"]
    path.write_text("\n".join([*head, *lines]), encoding="utf-8")
    goal = folder / "section.svg"
    said = _command("draw", str(path), "--out", str(goal))
    if said == "read":
        ElementTree.fromstring(goal.read_text("utf-8"))
        design = read_design(path)
        assert design_from_toml(design_to_toml(design)) == design
    return said


def command(draw: random.Random, folder: Path) -> str:
    """Run a command with a wrong word, quantity or path."""
    path = folder / "d.toml"
    data = draw.choice(DESIGNS).read_bytes()
    path.write_bytes(data)
    word = draw.choice([*map(str, NUMBERS), *QUANTITIES, *NAMES])
    word = word.replace("\0", "")
    line = draw.choice(
        [
            ["wire", str(path), f"--resistance={word}"],
            ["materials", "--", word],
            ["new", "--", word, str(folder / "new.toml")],
            ["new", "outside-magnet", "--", str(path)],
            ["draw", str(folder / word[:200]), "--out", str(folder / "s.svg")],
            ["solve", str(path), "--accuracy", "0.01%", f"--current={word} mm"],
            ["study", str(path), "--out", str(folder / "out")],
            ["study", str(PLANS[0]), "--out", str(folder / "out"), f"--time-limit=-{word}"],
            ["report", str(path), "--out", str(folder / word[:200])],
            [word, str(path)],
        ]
    )
    said = _command(*line)
    assert path.read_bytes() == data, f"{line} has changed its input"
    return said


def _command(*line: str) -> str:
    done = CliRunner().invoke(motor_command, list(line))
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code in (0, 1, 2), done.exit_code
    assert "\x1b" not in done.output, f"an escape sequence reaches the terminal: {line}"
    assert "Traceback" not in done.output
    return "refused" if done.exit_code else "read"


def solved(draw: random.Random, folder: Path) -> str:
    """Solve a design whose numbers are changed: if that can be done, all results are finite."""
    text = draw.choice(DESIGNS).read_text("utf-8")
    lines = text.splitlines()
    places = [n for n, line in enumerate(lines) if " mm" in line or '"g' in line]
    for _ in range(draw.randint(1, 3)):
        at = draw.choice(places)
        key, _, value = lines[at].partition(" = ")
        number, _, unit = value.strip('"').partition(" ")
        try:
            scaled = float(number) * draw.choice([0.5, 0.9, 1.1, 2, 10, 0.1, -1, 1e-3])
        except ValueError:
            continue
        lines[at] = f'{key} = "{scaled:.6g} {unit.partition(chr(34))[0]}"'
    said, design = _reading(read_design, folder / "d.toml", "\n".join(lines).encode())
    if design is None:
        return said
    try:
        summary = solve(design, uncertainty=False).summary()
    except (InvalidInput, MotorError) as error:
        return refused(error)
    json.dumps(summary, allow_nan=False)
    return "read"


# stores and folders


@dataclasses.dataclass(frozen=True)
class Area:
    """A kind of case: what runs it, its share of a long run, how many a test runs."""

    case: Callable[[random.Random, Path], str]
    share: float
    few: int


AREAS = {
    "design file": Area(design_file, 30, 80),
    "study file": Area(study_file, 20, 60),
    "table": Area(table_file, 20, 80),
    "drawing": Area(drawing, 4, 8),
    "name": Area(names, 6, 20),
    "command": Area(command, 8, 30),
    "solved design": Area(solved, 4, 8),
    "damaged store": Area(store, 6, 30),
    "killed store": Area(killed_store, 3, 10),
    "killed folder": Area(killed_folder, 3, 10),
}


def run_case(area: str, seed: int | str) -> tuple[str, float]:
    """Run one case; return what came of it and its seconds.  Anything else goes up."""
    began = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder, _alarm():
        said = AREAS[area].case(random.Random(f"{area} {seed}"), Path(folder))
    return said, time.perf_counter() - began


@contextmanager
def _alarm() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise TimeoutError(f"longer than {LIMIT} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(LIMIT)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def main() -> int:
    """Run a long run and print its table; the exit code is 1 if anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.properties.fuzz")
    parser.add_argument("--cases", type=int, default=8000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--area", choices=AREAS, help="one kind only")
    parser.add_argument("--only", type=int, help="one case, with its traceback")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    chosen = [asked.area] if asked.area else list(AREAS)
    total = sum(AREAS[area].share for area in chosen)
    failures: list[str] = []
    print(f"| area | cases | read | refused | killed | failed | slowest s |\n|{'---|' * 7}")
    for area in chosen:
        count = round(asked.cases * AREAS[area].share / total)
        found: Counter[str] = Counter()
        slowest = 0.0
        for number in range(count) if asked.only is None else [asked.only]:
            began = time.perf_counter()
            try:
                said, _ = run_case(area, f"{asked.seed} {number}")
            except (Exception, TimeoutError) as error:
                if asked.only is not None:
                    traceback.print_exc()
                said = "failed"
                place = traceback.extract_tb(error.__traceback__)[-1]
                words = f"{type(error).__name__} {error}"[:160]
                failures.append(f"{area} {number}: {words!a} at {place.name}:{place.lineno}")
            found[said] += 1
            slowest = max(slowest, time.perf_counter() - began)
        numbers = " | ".join(str(found[k]) for k in ("read", "refused", "killed", "failed"))
        print(f"| {area} | {found.total()} | {numbers} | {slowest:.1f} |", flush=True)
    for line in failures:
        print(line, file=sys.stderr)
    return int(bool(failures))


if __name__ == "__main__":
    sys.exit(main())
