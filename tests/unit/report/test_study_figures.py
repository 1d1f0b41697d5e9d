"""Figures of studies and drivers: what is marked, and what lies between solved designs."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from matplotlib.collections import QuadMesh

from motor.report.figures.driver import distortion_axis
from motor.report.figures.study import _between, plot_map, plot_shares
from motor.report.style import blank
from motor.study.study_table import StudyTable
from motor.study.tolerance import Scatter


def grid(across: int, up: int) -> StudyTable:
    """Return a made-up sweep of two parameters."""
    return StudyTable.of_records(
        [
            {"a.x_mm": float(i), "a.y_mm": 2.0 * j, "z_mm": 1.0 + i * i - 0.3 * i * j}
            for i, j in itertools.product(range(across), range(up))
        ]
    )


def test_the_map_between_designs_goes_through_all_of_them() -> None:
    across, up = np.arange(5.0), 2.0 * np.arange(4.0)
    values = 1.0 + across**2 - 0.15 * across * up[:, None]
    x, y, fine = _between(across, up, values)
    for (j, b), (i, a) in itertools.product(enumerate(up), enumerate(across)):
        there = fine[np.abs(y - b).argmin(), np.abs(x - a).argmin()]
        if np.isclose(x, a).any() and np.isclose(y, b).any():
            assert there == pytest.approx(values[j, i])
    assert fine[0, 0] == pytest.approx(values[0, 0])
    assert fine[-1, -1] == pytest.approx(values[-1, -1])


def test_few_designs_are_cells_and_nothing_between_them() -> None:
    ax = plot_map(grid(3, 5), "a.x_mm", "a.y_mm", "z_mm", ax=blank())
    assert any(isinstance(c, QuadMesh) for c in ax.collections)


def test_the_base_design_is_marked_at_its_place() -> None:
    base = {"a.x_mm": 1.5, "a.y_mm": 3.0}
    ax = plot_map(grid(4, 4), "a.x_mm", "a.y_mm", "z_mm", ax=blank(), base=base)
    marked = [line for line in ax.get_lines() if line.get_label() == "base design"]
    assert [tuple(map(float, np.ravel(line.get_data()))) for line in marked] == [(1.5, 3.0)]


def test_a_figure_that_nothing_changes_has_no_entry_among_the_causes() -> None:
    still = Scatter("resonance_Hz", 44.0, 0.0, 44.0, 44.0, {"a.b": 0.0})
    moved = Scatter("bl_at_rest_Tm", 6.0, 0.1, 5.8, 6.2, {"a.b": 0.9})
    ax = plot_shares([still, moved], ax=blank())
    assert [t.get_text() for t in ax.get_legend().get_texts()] == ["Bl at rest"]


def test_three_and_ten_per_cent_of_distortion_can_be_read() -> None:
    ax = blank()
    ax.plot([20, 200], [25.0, 0.2])
    distortion_axis(ax)
    low, high = ax.get_ylim()
    shown = [label.get_text() for label in ax.get_yticklabels()]
    assert low < 3 < 10 < high
    assert {"3", "10"} <= set(shown)
