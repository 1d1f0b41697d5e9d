"""Door woofers playing in a car door at 85 degC: what gets how hot, and what helps.

Run ``python -m studies.heat_in_the_door --out out/heat_in_the_door``.  The ferrite woofer and its
neodymium twin play a lasting programme of 6 W for eight hours, with copper and with aluminium
wire of the same size, with and without ferrofluid and a copper sleeve on the pole.
"""

from __future__ import annotations

import dataclasses
import itertools
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import motor
from geometries import Ring
from motor.base.constants import ZERO_CELSIUS
from motor.base.whole_files import folder_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.style import sheet, style
from motor.results.heat import Warmth, heat
from motor.results.heat_time import HeatHistory, noise
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.design.design import Design

TWINS = {"ferrite": "door_woofer_ferrite", "neodymium": "door_woofer_neodymium"}
WIRES = ("copper", "aluminium")
HELPS = ("nothing", "sleeve", "ferrofluid")
POWER, AMBIENT, DURATION = 6.0, ZERO_CELSIUS + 85, 8 * 3600.0
SLEEVE = Ring(
    name="pole_sleeve",
    inner_diameter=31.0e-3,
    outer_diameter=31.4e-3,
    bottom=-3.0e-3,
    height=6.0e-3,
    material="copper",
)
"""0.2 mm on the pole: half of the room that the former has there."""


def variant(base: Design, wire: str, helped: str) -> Design:
    """Return a woofer with other wire, and with what is to help."""
    coil = dataclasses.replace(base.coil, wire=dataclasses.replace(base.coil.wire, material=wire))
    filled = "filled" if helped == "ferrofluid" else "none"
    rules = dataclasses.replace(base.heat, ambient=AMBIENT, ferrofluid=filled)
    geometry = base.geometry
    if helped == "sleeve":
        geometry = dataclasses.replace(geometry, rings=(SLEEVE,))  # type: ignore[call-arg]
    return base.replace(coil=coil, heat=rules, geometry=geometry)


def row(twin: str, wire: str, helped: str, warmth: Warmth) -> dict[str, object]:
    """Return the figures of one woofer."""
    largest, why = warmth.largest_power
    return {
        "magnet": twin,
        "wire": wire,
        "with": helped,
        "coil_degC": round(warmth.coil.value - ZERO_CELSIUS, 2),
        "hottest_turn_degC": round(warmth.hottest("coil-winding").value - ZERO_CELSIUS, 2),
        "hottest_turn_band_K": round(warmth.band("coil_hottest"), 2),
        "magnet_degC": round(warmth.magnet.value - ZERO_CELSIUS, 2),
        "largest_power_W": round(largest.value, 3),
        "limited_by": why,
        "bl_warm_Tm": round(warmth.bl_at_rest.value, 4),
        "level_dB": round(warmth.compression, 3),
    }


def figure(histories: dict[str, HeatHistory], rows: list[dict[str, object]]) -> Figure:
    """Draw the plain twins over time, and every variant's hottest turn and largest power."""
    look = style()
    drawn, grid = sheet(1, 2, width=5.4, height=4.6)
    left, right = grid[0]
    for k, (name, found) in enumerate(histories.items()):
        for values, what in ((found.coil_hottest, "hottest turn"), (found.magnet, "magnet")):
            line = {**look.line(k), "ls": "-" if what == "hottest turn" else ":"}
            left.plot(
                found.time / 60, values - ZERO_CELSIUS, lw=1.7, label=f"{name}, {what}", **line
            )
    left.set(xlabel="time in min", ylabel="temperature in degC", xlim=(0, 120))
    left.legend(frameon=False, fontsize=8)
    left.grid(alpha=0.3)
    names = [f"{r['magnet']}, {r['wire']}, {r['with']}" for r in rows]
    right.barh(range(len(rows)), [r["largest_power_W"] for r in rows], color=look.ink)
    right.set_yticks(range(len(rows)), names, fontsize=8)
    right.invert_yaxis()
    right.grid(alpha=0.3, axis="x")
    right.set(xlabel="largest lasting power in W at 85 degC")
    return drawn


def answer(rows: list[dict[str, object]]) -> str:
    """Return the result in words."""
    lines = [
        f"- {r['magnet']}, {r['wire']} wire, with {r['with']}: hottest turn "
        f"{r['hottest_turn_degC']:.0f} ± {r['hottest_turn_band_K']:.0f} degC, magnet "
        f"{r['magnet_degC']:.0f} degC, Bl {r['bl_warm_Tm']:.2f} T m, level "
        f"{r['level_dB']:.1f} dB; bears {r['largest_power_W']:.3g} W ({r['limited_by']})."
        for r in rows
    ]
    head = f"{POWER:g} W for {DURATION / 3600:g} h in a door at {AMBIENT - ZERO_CELSIUS:g} degC:"
    caution = "Hot coils burn, hot magnets lose strength for good: tests and local rules decide."
    return "\n".join([head, *lines, caution])


def main() -> None:
    """Write table and figure of all variants and print the answer."""
    folder: Path = read_options("heat_in_the_door", __doc__, workers=False).out
    rows, histories = [], {}
    for twin, wire, helped in itertools.product(TWINS, WIRES, HELPS):
        base = motor.read_design(Path(__file__).parent / "designs" / f"{TWINS[twin]}.toml")
        warmth = heat(motor.solve(variant(base, wire, helped)), POWER)
        rows.append(row(twin, wire, helped, warmth))
        if (wire, helped) == (WIRES[0], HELPS[0]):
            histories[twin] = warmth.history(noise(), DURATION)
    assert all(np.isfinite(found.coil).all() for found in histories.values())
    text = answer(rows)
    with folder_of(folder) as (work, _):
        write_rows(rows, work / "heat.csv")
        save_figure(figure(histories, rows), work / "door")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
