"""The field file, read again with meshio and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
import shapely

from geometries import Role, polygon
from motor.base.errors import OutputError
from motor.base.program import stamp
from motor.report.files.vtu import write_vtu
from motor.results.motor_result import MotorResult
from tests.unit.report.files.designs import KINDS


@pytest.fixture(params=KINDS)
def pair(
    request: pytest.FixtureRequest, solved: Callable[[str], MotorResult], tmp_path: Path
) -> tuple[MotorResult, Any]:
    """Return a solved starter and its field file as meshio reads it."""
    result = solved(request.param)
    write_vtu(result, tmp_path / "x.vtu")
    return result, meshio.read(tmp_path / "x.vtu")


def numbers(grid: Any) -> dict[str, int]:
    """Return the number of each region by its name, from the file alone."""
    prefix = "region_"
    return {
        name.removeprefix(prefix): int(value[0])
        for name, value in grid.field_data.items()
        if name.startswith(prefix)
    }


def areas(grid: Any) -> np.ndarray:
    a, b, c = (grid.points[grid.cells[0].data[:, k], :2] for k in range(3))
    d, e = b - a, c - a
    return 0.5 * np.abs(d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0])


def test_regions_are_found_by_name_with_their_areas(pair: tuple[MotorResult, Any]) -> None:
    result, grid = pair
    label, area, index = grid.cell_data["region"][0], areas(grid), numbers(grid)
    assert set(index) == {"air", *(region.name for region in result.design.regions)}
    for region in result.design.regions:
        own = label == index[region.name]
        np.testing.assert_array_equal(grid.cell_data[f"in_{region.name}"][0], own)
        assert area[own].sum() == pytest.approx(polygon(region).area, rel=1e-6)
    magnets = [r.name for r in result.design.regions if r.role is Role.MAGNET]
    inside = sum(grid.cell_data[f"in_{name}"][0].astype(float) for name in magnets)
    middle = grid.points[grid.cells[0].data[:, :3], 0].mean(axis=1)
    mass = 2 * np.pi * (middle * area * inside).sum() * magnet_density(result)
    assert mass == pytest.approx(result.mass_of(Role.MAGNET), rel=1e-6)


def test_the_coil_at_rest_is_seen_with_its_area(
    pair: tuple[MotorResult, Any], tmp_path: Path
) -> None:
    result, grid = pair
    area = areas(grid)
    for name, outline in result.design.coil.outlines():
        share = grid.cell_data[f"share_of_{name}"][0]
        assert 0 <= share.min() <= share.max() <= 1 + 1e-9
        assert (share * area).sum() == pytest.approx(shapely.Polygon(outline).area, rel=1e-6)
    assert f"<!-- {stamp()}; r, z, 0 in metres -->" in (tmp_path / "x.vtu").read_text()


def magnet_density(result: MotorResult) -> float:
    (name,) = [r.name for r in result.design.regions if r.role is Role.MAGNET]
    return result.design.materials.magnet_of(name).density


def test_flux_density_is_that_of_the_field(pair: tuple[MotorResult, Any]) -> None:
    """In small triangles the mean is the value at the centre, and psi gives the same flux."""
    result, grid = pair
    gap = result.design.geometry.gap
    centre = grid.points[grid.cells[0].data[:, :3], :2].mean(axis=1)
    r, z = centre.T
    middle = (
        (r > gap.inner_radius)
        & (r < gap.outer_radius)
        & (np.abs(z - (gap.top + gap.bottom) / 2) < 0.3 * gap.depth)
    )
    assert middle.sum() > 5
    ours = grid.cell_data["flux_density_T"][0][middle]
    expected = result.field.flux_density(r[middle], z[middle])
    np.testing.assert_allclose(ours[:, :2], expected, atol=2e-3 * np.abs(expected).max())
    assert (ours[:, 2] == 0).all()
    psi = grid.point_data["flux_function_Wb"]
    a, b, c = (grid.cells[0].data[middle, k] for k in range(3))
    points = grid.points[:, :2]
    d, e = points[b] - points[a], points[c] - points[a]
    det = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
    slope = ((psi[c] - psi[a]) * d[:, 0] - (psi[b] - psi[a]) * e[:, 0]) / det
    b_r = -slope / r[middle]
    np.testing.assert_allclose(b_r, expected[:, 0], rtol=2e-2)


def test_field_strength_times_permeability_in_air(pair: tuple[MotorResult, Any]) -> None:
    _, grid = pair
    air = grid.cell_data["in_air"][0] == 1
    b, h = (grid.cell_data[k][0][air] for k in ("flux_density_T", "field_strength_A_per_m"))
    np.testing.assert_allclose(b, 4e-7 * np.pi * h, rtol=1e-8, atol=1e-15)


def test_every_array_names_its_unit_and_the_file_its_program(
    pair: tuple[MotorResult, Any],
) -> None:
    _, grid = pair
    assert set(grid.point_data) == {"flux_function_Wb"}
    plain = {name for name in grid.cell_data if not name.startswith(("in_", "share_of_"))}
    assert plain == {"flux_density_T", "field_strength_A_per_m", "region"}
    assert bytes(grid.field_data["program"]).decode("utf-8") == stamp()


def test_a_field_that_cannot_be_written_is_an_error(
    solved: Callable[[str], MotorResult], tmp_path: Path
) -> None:
    with pytest.raises(OutputError, match=r"x\.vtu could not be written"):
        write_vtu(solved(KINDS[0]), tmp_path / "no" / "x.vtu")
