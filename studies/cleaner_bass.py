"""Find the motor that plays cleaner bass, in a car door and in a bookshelf box.

Run ``python -m studies.cleaner_bass --out out/cleaner_bass``.  Ferrite against neodymium twin,
and the ferrite motor with a short against a tall winding of the same wire, each from its drawing
dimensions to distortion curves.  All are driven to the same loudness, reckoned at 100 Hz.
"""

from __future__ import annotations

import csv
import dataclasses
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

import motor
from motor.base.whole_files import folder_of
from motor.design.characteristic import Table
from motor.design.enclosure import Amplifier, Box
from motor.driver.parts import Driver, DriverSystem, driver_of
from motor.driver.run import steel_band
from motor.driver.system_comparison import Candidate, Comparison, compare, equal_loudness
from motor.driver.thermal_network import network_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.tables.driver import CAUTION
from motor.results.motor_result import MotorResult, read_off, solve
from studies.options import as_command, read_options

FERRITE, NEODYMIUM = "door_woofer_ferrite", "door_woofer_neodymium"
WINDINGS = {"short winding": 8e-3, "tall winding": 16e-3}
"""Heights in metres of the two coils in the ferrite motor, whose gap is 6 mm deep."""
SUSPENSION = Table(
    tuple(1e-3 * x for x in range(-10, 11, 2)),
    (2.30, 1.74, 1.38, 1.16, 1.03, 1.00, 1.02, 1.10, 1.29, 1.59, 2.09),
)
"""Stiffness over displacement of spider and surround, as a share of the design's.  Invented."""
FREQUENCIES = np.geomspace(40.0, 200.0, 12)
LOUDNESS_AT = 100.0
"""Hz at which all are made equally loud."""
TONES = (100.0, 200.0)
"""Hz at which the field's own harmonics are looked at too, where travel is small."""
ALIKE = 0.1
"""Differences of distortion below this share are called none."""
ALIKE_DECIBEL = 0.5


class Place(NamedTuple):
    """Where the driver plays.  Invented."""

    name: str
    text: str
    box: Box
    amplifier: Amplifier
    voltage: float
    bass: float


PLACES = (
    Place(
        "door",
        "a car door, 40 l that leaks below 15 Hz",
        Box(volume=40e-3, leak_corner=15.0),
        Amplifier(output_resistance=0.15, clip=17.0),
        6.0,
        50.0,
    ),
    Place(
        "bookshelf",
        "a vented bookshelf box, 12 l tuned to 50 Hz",
        Box(volume=12e-3, tuning=50.0, port_area=20e-4),
        Amplifier(output_resistance=0.10, clip=28.0),
        6.0,
        70.0,
    ),
)


TITLES = {"twins": "Ferrite and neodymium", "windings": "Short and tall winding"}


def motors() -> dict[str, list[MotorResult]]:
    """Solve the twins, and read the two windings off the ferrite motor's field."""
    folder = Path(__file__).parent / "designs"
    ferrite, neodymium = (
        solve(motor.read_design(folder / f"{name}.toml")) for name in (FERRITE, NEODYMIUM)
    )
    windings = []
    for name, height in WINDINGS.items():
        coil = dataclasses.replace(ferrite.design.coil, winding_height=height)
        label = f"{name}, {height * 1e3:.0f} mm"
        windings.append(read_off(ferrite.design.replace(coil=coil, name=label), ferrite.field))
    return {"twins": [ferrite, neodymium], "windings": windings}


def run(
    results: Sequence[MotorResult], drivers: Sequence[Driver], place: Place, what: str
) -> Comparison:
    """Put motors and their drivers through the same tests in one place."""
    systems = [
        DriverSystem(
            driver=d.replace(stiffness=SUSPENSION.scaled(d.k.at_rest)),
            box=place.box,
            amplifier=place.amplifier,
        )
        for d in drivers
    ]
    networks = [network_of(r, output_resistance=place.amplifier.output_resistance) for r in results]
    return compare(
        systems,
        frequency=FREQUENCIES,
        voltage=equal_loudness(systems, LOUDNESS_AT, place.voltage),
        bass=place.bass,
        heat=networks,
        title=f"{what}: {place.text}; equally loud at {LOUDNESS_AT:.0f} Hz",
    )


def judge(found: Comparison) -> str:
    """Return the answer in words, from the figures."""
    a, b = found.candidates
    first, second = a.row(), b.row()
    wins: dict[str, list[str]] = {a.name: [], b.name: []}
    lines = []
    for key, what in (
        ("mean_thd", "harmonic distortion, mean over 40 to 200 Hz"),
        ("modulation_second", "second-order modulation"),
        ("modulation_third", "third-order modulation"),
    ):
        one, two = first[key], second[key]
        if one is None or two is None:
            lines.append(f"  {what}: no steady motion at some frequency")
            continue
        lines.append(f"  {what}: {100 * one:.2f} % against {100 * two:.2f} %")
        if abs(one - two) > ALIKE * max(one, two):
            wins[a.name if one < two else b.name].append(what)
    one, two = first["mean_clean_level_dB"], second["mean_clean_level_dB"]
    lines.append(
        f"  loudest clean sine, mean over 40 to 200 Hz: {one:.1f} dB against {two:.1f} dB; "
        f"limited by {reasons(a)} against {reasons(b)}"
    )
    if abs(one - two) > ALIKE_DECIBEL:
        wins[a.name if one > two else b.name].append("loudest clean sine")
    lines.append(
        f"  travel at 10 % distortion and resonance: {first['stroke_at_10_percent_mm']:.1f} mm "
        f"against {second['stroke_at_10_percent_mm']:.1f} mm"
    )
    for one_of in (a, b):
        lines += [f"  finding, {one_of.name}: {f.text}" for f in one_of.findings[:2]]
    return "\n".join([f"- {verdict(wins, a.name, b.name)}", *lines])


def within_period(found: Comparison, results: Sequence[MotorResult]) -> list[str]:
    """Return the distortion of TONES with what steel does within the period, a line a tone."""
    bands = [
        {band.frequency: band for band in steel_band(c.system, c.voltage, TONES, result=result)}
        for c, result in zip(found.candidates, results, strict=True)
    ]
    lines = []
    for tone in TONES:
        here = [band[tone] for band in bands if tone in band]
        if len(here) == len(bands):
            told = " against ".join(f"{100 * one.best:.2f} %" for one in here)
            most = " and ".join(f"{100 * one.most:.1f} %" for one in here)
            lines.append(
                f"  {tone:.0f} Hz with what steel does within a period: {told}; at most {most}"
            )
    return lines


def verdict(wins: dict[str, list[str]], first: str, second: str) -> str:
    """Return who plays cleaner, and in what the other is better."""
    one, two = wins[first], wins[second]
    if not one and not two:
        return f"{first} and {second} play equally clean"
    better, worse = (first, second) if len(one) >= len(two) else (second, first)
    if len(one) == len(two):
        return f"no clear winner: {first} in {', '.join(one)}; {second} in {', '.join(two)}"
    text = f"{better} plays cleaner bass than {worse}: better in {', '.join(wins[better])}"
    return text + (f"; worse in {', '.join(wins[worse])}" if wins[worse] else "")


def reasons(candidate: Candidate) -> str:
    """Return what limits the clean level, most frequent first."""
    named = [limit.limited_by for limit in candidate.clean.limits]
    every = sorted(set(named), key=lambda r: -named.count(r))
    return " and ".join(every[:2])


def write(found: Comparison, folder: Path, stem: str) -> None:
    """Write the page and its tables."""
    with folder_of(folder) as (work, _):
        save_figure(found.plot(), work / stem)
        write_rows([c.row() for c in found.candidates], work / f"{stem}.csv")
        with (work / f"{stem}_curves.csv").open("w", newline="", encoding="utf-8") as stream:
            table = csv.writer(stream)
            table.writerow(
                ("name", "frequency_Hz", "level_dB", "thd", "peak_mm", "clean_dB", "limited_by")
            )
            for c in found.candidates:
                for f, (state,), limit in zip(
                    found.frequency, c.map.states, c.clean.limits, strict=True
                ):
                    seen = ("", "", "")
                    if state is not None:
                        seen = (
                            f"{state.level:.3f}",
                            f"{state.thd:.6f}",
                            f"{state.peak * 1e3:.4f}",
                        )
                    table.writerow(
                        (c.name, f"{f:.3f}", *seen, f"{limit.level:.3f}", limit.limited_by)
                    )


def main() -> None:
    """Solve all motors, write pages and tables, print the answer."""
    folder: Path = read_options("cleaner_bass", __doc__, workers=False).out
    every = motors()
    drivers = {k: [driver_of(r, compute=True) for r in results] for k, results in every.items()}
    texts = ["All designs, boxes, suspensions and amplifiers are invented."]
    with folder_of(folder) as (work, _):
        for place in PLACES:
            texts.append(f"In {place.text}, equally loud at {LOUDNESS_AT:.0f} Hz:")
            for what, results in every.items():
                found = run(results, drivers[what], place, TITLES[what])
                write(found, work, f"{place.name}_{what}")
                texts.append("\n".join([judge(found), *within_period(found, results)]))
        texts.append(CAUTION)
        text = "\n\n".join(texts)
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
