"""Imports stand at the top of a file; those inside functions have a reason listed here."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
ROOMS = ("geometries", "motor", "studies")

SLOW = {
    "cvxopt": "its threads are counted once it is loaded",
    "ezdxf": "0.2 s; DXF only",
    "gmsh": "needs libraries for X and GL; meshes and solids only",
    "matplotlib": "0.4 s; figures only",
    "meshio": "0.07 s; field files only",
    "numpy": "0.1 s; colours of figures only",
    "pint": "0.2 s; the first length with a unit",
    "rich": "0.04 s; tables and spinners only",
    "scipy": "0.3 to 0.7 s; curves, distributions, recordings only",
    "shapely": "brings numpy, 0.1 s; the first check or drawing of a section",
    "threadpoolctl": "counts the threads of libraries that are loaded by then",
}
"""Packages that a short command must not wait for; seconds of one import, 2026-11-28."""
OPTIONAL = {"PIL": "pictures of the studies' page only"}
OWN = {
    "motor/__init__.py": "the version is read from the installed package",
    "motor/base/drawable.py": "the one arrow that goes up: which function draws a record",
    "motor/base/media.py": "help without the geometries",
    "motor/driver/parts.py": "drivers without a field",
    "motor/report/files/export.py": "each format loads its own packages, and a field only if asked",
    "motor/report/files/fit.py": "pages only if asked",
    "motor/report/files/folder.py": "figures and pages only if asked",
    "motor/report/tables/catalogue.py": "figures only if asked",
    "motor/report/themes.py": "help without the geometries",
    "motor/report/views.py": "pages only if asked",
}
"""Files with imports of our own inside functions, for start-up time all but one."""
COMMANDS = "motor/cli/"
"""Each command imports what it needs when it runs, so that help takes hundredths of a second."""


def inside_functions(code: str) -> Iterator[tuple[int, str]]:
    """Yield line and module of each import inside a function."""
    waiting: list[tuple[ast.AST, bool]] = [(ast.parse(code), False)]
    while waiting:
        node, inside = waiting.pop()
        if isinstance(node, ast.ImportFrom) and inside:
            yield node.lineno, node.module or ""
        elif isinstance(node, ast.Import) and inside:
            yield from ((node.lineno, alias.name) for alias in node.names)
        inside = inside or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        if not isinstance(node, ast.expr):
            waiting += [(child, inside) for child in ast.iter_child_nodes(node)]


@pytest.fixture(scope="module")
def code() -> dict[str, str]:
    """Return the text of every file by its path."""
    paths = [path for room in ROOMS for path in (ROOT / room).rglob("*.py")]
    return {p.relative_to(ROOT).as_posix(): p.read_text(encoding="utf-8") for p in paths}


def not_allowed(name: str, code: str) -> list[str]:
    """Return the imports inside functions of a file that no reason is listed for."""
    found = []
    for line, module in inside_functions(code):
        package = module.split(".")[0]
        ours = package in ROOMS and (name in OWN or name.startswith(COMMANDS))
        if not (ours or package in SLOW or package in OPTIONAL):
            found.append(f"{name}:{line} {module}")
    return found


def test_imports_inside_functions_have_a_reason(code: dict[str, str]) -> None:
    assert [line for name, text in code.items() for line in not_allowed(name, text)] == []


def test_no_reason_is_left_over(code: dict[str, str]) -> None:
    found = [(name, m.split(".")[0]) for name in code for _, m in inside_functions(code[name])]
    assert set(SLOW) | set(OPTIONAL) <= {package for _, package in found}
    assert set(OWN) <= {name for name, package in found if package in ROOMS}


@pytest.mark.parametrize(
    ("name", "module", "count"),
    [
        ("motor/field/field.py", "motor.field.newton", 1),
        ("motor/field/field.py", "json", 1),
        ("motor/field/field.py", "matplotlib.axes", 0),
        ("motor/cli/solve.py", "motor.report.views", 0),
        ("motor/cli/solve.py", "json", 1),
    ],
)
def test_the_guard_sees_an_import(name: str, module: str, count: int) -> None:
    code = f"def f() -> None:\n    class A:\n        from {module} import x\n"
    assert len(not_allowed(name, code)) == count
