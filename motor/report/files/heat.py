"""Where a driver's temperatures settle, and over time, as files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from motor.base.constants import ZERO_CELSIUS
from motor.base.drawable import Drawable
from motor.base.program import origin
from motor.base.steps import step
from motor.base.whole_files import folder_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.tables.heat import heat_record

if TYPE_CHECKING:
    from motor.results.heat import Warmth
    from motor.results.heat_time import HeatHistory

__all__ = ["save_heat"]


def save_heat(warmth: Warmth, history: HeatHistory, folder: str | Path) -> list[Path]:
    """Write heat.json, both tables and both figures into a folder, in one step."""
    with step("figures and files"), folder_of(folder) as (work, written):
        record = origin() | heat_record(warmth, history)
        text = json.dumps(record, indent=2, allow_nan=False) + "\n"
        (work / "heat.json").write_text(text, encoding="utf-8")
        columns = {
            "time_s": history.time,
            "power_W": history.power,
            "heat_in_coil_W": history.heat,
            "heat_in_parts_W": history.losses,
            "coil_degC": history.coil - ZERO_CELSIUS,
            "coil_hottest_degC": history.coil_hottest - ZERO_CELSIUS,
            "magnet_degC": history.magnet - ZERO_CELSIUS,
            "level_dB": history.level,
        }
        rows = [
            {name: float(f"{value:.9g}") for name, value in zip(columns, row, strict=True)}
            for row in zip(*columns.values(), strict=True)
        ]
        write_rows(rows, work / "heat_over_time.csv")
        units = {"power": "W", "level": "dB"}
        powers = [
            {
                f"{k}_{units.get(k, 'degC')}": float(f"{v if k in units else v - ZERO_CELSIUS:.9g}")
                for k, v in row.items()
            }
            for row in warmth.over_power()
        ]
        write_rows(powers, work / "heat_over_power.csv")
        views: dict[str, Drawable] = {"heat_field": warmth, "heat_over_time": history}
        for stem, drawn in views.items():
            figure = drawn.plot().get_figure(root=True)
            assert figure is not None
            save_figure(figure, work / stem)
    return written
