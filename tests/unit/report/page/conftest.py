"""What several test files look at: the browser, and studies, each run once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from .browser import started
from .studies import KINDS, Case, case


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("studies")


@pytest.fixture(scope="session")
def cases(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Case]:
    """Return the studies; processes that test side by side solve their designs together."""
    base = tmp_path_factory.getbasetemp()
    together = base.parent if "PYTEST_XDIST_WORKER" in os.environ else folder / "together"
    together.mkdir(exist_ok=True)
    return {kind: case(kind, folder, together / f"{kind}.sqlite") for kind in KINDS}


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    with started() as running:
        yield running


@pytest.fixture(params=KINDS)
def any_case(request: pytest.FixtureRequest, cases: dict[str, Case]) -> Case:
    return cases[request.param]
