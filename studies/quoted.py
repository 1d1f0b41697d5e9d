"""The figures that studies/README.md quotes: taken from runs, and put into its sentences.

``python -m studies.quoted`` solves what takes seconds; ``python -m studies.quoted --results out``
also reads the answers of all studies that have written one to ``out/NAME``.  Both keep the figures
in ``quoted.json``, with the digest of the program that gave them, and rewrite the sentences that
quote them.  A test compares page, record and, for what takes seconds, a fresh run.  What words
make of the figures ("lighter", "by far") is for the reader of the command's output to mend.
"""

from __future__ import annotations

import argparse
import datetime
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import motor
from motor.results.impedance import blocked_impedance
from motor.study.evaluate import code_digest

__all__ = ["PAGE", "QUICK", "QUOTES", "RECORD", "Quote", "read_answer", "renew", "rewritten"]

HERE = Path(__file__).parent
PAGE = HERE / "README.md"
RECORD = HERE / "quoted.json"
Figures = dict[str, float]


@dataclass(frozen=True)
class Quote:
    """Words of the page with the figures of one study in them.

    Parameters
    ----------
    study : str
        Name of a module of this folder, of a plan in ``plans``, or of a quick run.
    words : str
        A template for ``str.format`` with the names of figures.
    """

    study: str
    words: str

    def text(self, figures: Mapping[str, Figures]) -> str:
        """Return the words with figures."""
        return self.words.format(**figures[self.study])


QUOTES = (
    Quote(
        "demos",
        "the ferrite woofer has {ferrite_bl:.2f} T m at rest and {ferrite_stroke:.2f} mm of usable",
    ),
    Quote(
        "inductance",
        "L(x): {at_30:.1f} mH at rest at 30 Hz, {at_1000:.2f} mH at 1 kHz",
    ),
    Quote("lightest_motor", "the target can be met with a {magnet:.0f} mm magnet"),
    Quote(
        "flat_bl",
        "| from {drawn:.1f} % to {flat:.1f} % over 4 mm to either side, for {cost:.0f} % of Bl",
    ),
    Quote("production", "| {inside:.0f} %; remanence"),
    Quote(
        "winding_against_gap",
        "{height:g} mm in a {depth:g} mm gap give {stroke:.2f} mm of stroke at {constant:.1f} N²/W",
    ),
    Quote(
        "ferrite_against_neodymium",
        "neodymium is {lighter:.1f} times lighter, ferrite {cheaper:.0f} % cheaper",
    ),
    Quote(
        "inside_against_outside",
        "{inside:.1f} mm with a {inside_coil:g} mm coil and a {inside_height:.0f} mm winding, for "
        "1 % less in {inside_mass:.0f} g",
    ),
    Quote(
        "inside_against_outside",
        "neodymium has {outside:.1f} mm with a {outside_coil:g} mm coil, for 1 % less in "
        "{outside_mass:.0f} g, ferrite {ferrite:.1f} mm with a {ferrite_coil:g} mm coil in "
        "{ferrite_mass:.0f} g",
    ),
    Quote(
        "production_tolerances",
        "{ferrite:.0f} % (ferrite) and {neodymium:.0f} % (neodymium) of the motors are inside",
    ),
    Quote("car_temperature", "{margin:.0f} ± {spread:.0f} kA/m are left there"),
    Quote(
        "car_temperature",
        "Bl falls by {ferrite:.0f} % from the cold to the hot end with ferrite, by "
        "{neodymium:.0f} % with neodymium",
    ),
    Quote(
        "cleaner_bass",
        "(in the door {tall:.1f} % of distortion against {short:.1f} %)",
    ),
    Quote("cleaner_bass", "it is {less:.1f} to {more:.1f} dB less loud"),
    Quote(
        "cleaner_bass",
        "{neodymium_within:.2f} % at 100 Hz in the door where ferrite has {ferrite_within:.2f} %",
    ),
    Quote(
        "cleaner_bass",
        "at 200 Hz the tall winding has {tall_within:.2f} %, the short one {short_within:.2f} %",
    ),
    Quote(
        "copper_sleeve",
        "leave {thin:.2f} mH of the {bare:.2f} mH by which L swings within ±10 mm at 200 Hz, and "
        "cost {cost:.0f} % of Bl²/Re",
    ),
    Quote("copper_sleeve", "than bare steel does ({thick:.2f} mH)"),
    Quote(
        "copper_sleeve",
        "The distortion of 100 Hz at 12 V falls from {thd_bare:.2f} % to {thd_thin:.2f} %, with "
        "0.8 mm to {thd_least:.2f} %, and rises beyond",
    ),
    Quote(
        "flat_force_factor",
        "takes the deviation over 8 mm to either side from {drawn:.1f} % to {flat:.1f} % for "
        "{lost:.0f} % of Bl²/Re",
    ),
    Quote(
        "flat_force_factor",
        "{three_limit:.0f} % take {three_mass:.0f} g of motor and {three_moving:.1f} g of moving "
        "mass, {one_limit:.0f} % {one_mass:.0f} g and {one_moving:.1f} g, which leave "
        "{efficiency:.0f} % of the efficiency; the pole's contour saves {saved:.0f} % of that "
        "motor",
    ),
    Quote(
        "flat_force_factor",
        "it stops paying at {two_limit:.0f} %: a point of per cent before costs {easy:.0f} g, the "
        "next one {dear:.0f} g, and a coil {off:.1f} mm out of its place makes "
        "{aside:.2f} % of the {one_limit:.0f} %",
    ),
    Quote(
        "door_slam",
        "hold {cold:.0f} N of {inertia:.0f} N at -40 degC and {hot:.0f} N at 105 degC",
    ),
    Quote(
        "door_slam",
        "Plates 4 mm smaller save {saved:.0f} g, cost {cost:.1f} % of Bl and leave {four:.0f} N "
        "instead of {whole:.0f} N to it",
    ),
)
"""Everything with a digit in an answer of the page; a test holds the page to it."""


def _demos() -> Figures:
    result = motor.solve(motor.read_design(HERE / "designs" / "door_woofer_ferrite.toml"))
    return {
        "ferrite_bl": result.bl_curve.at_rest.value,
        "ferrite_stroke": 1e3 * result.usable_stroke.value,
    }


QUICK: dict[str, Callable[[], Figures]] = {"demos": _demos}
"""Runs of seconds."""


def _inductance() -> Figures:
    result = motor.solve(motor.read_design(HERE / "designs" / "home_bass_long_stroke.toml"))
    found = blocked_impedance(result, None, (30.0, 1000.0))
    low, high = (1e3 * float(v) for v in found.inductance[:, found.rest])
    return {"at_30": low, "at_1000": high}


LONGER: dict[str, Callable[[], Figures]] = {"inductance": _inductance}
"""Runs of a minute, made where results are read."""

NUMBER = r"(-?\d+(?:\.\d+)?)"
ANSWERS: dict[str, tuple[tuple[str, str], ...]] = {
    "lightest_motor": (("magnet", r"magnet_outer_diameter = # mm"),),
    "flat_bl": (
        ("flat drawn", r"deviation of Bl\(x\) in the band: # ± \S+ %, as drawn #"),
        ("bl drawn_bl", r"- Bl at rest: # ± \S+ T m, as drawn #"),
    ),
    "production": (("inside", r"inside all limits: # %"),),
    "winding_against_gap": (
        ("stroke height depth", r"is # mm one-way: a winding of # mm in a gap of # mm"),
        ("constant", r"Bl²/Re # N²/W, moving"),
    ),
    "ferrite_against_neodymium": (
        ("light heavy", r"motor mass: neodymium # g, ferrite # g"),
        ("cheap dear", r"invented prices: ferrite # units, neodymium # units"),
    ),
    "inside_against_outside": (
        (
            "inside inside_coil inside_height",
            r"- neodymium inside: # mm of stroke .* a coil of # mm, a winding of # mm",
        ),
        ("inside_mass", r"- neodymium inside: .* less stroke # g"),
        (
            "outside outside_coil outside_height",
            r"- neodymium outside: # mm of stroke .* a coil of # mm, a winding of # mm",
        ),
        ("outside_mass", r"- neodymium outside: .* less stroke # g"),
        (
            "ferrite ferrite_coil ferrite_height",
            r"- ferrite outside: # mm of stroke .* a coil of # mm, a winding of # mm",
        ),
        ("ferrite_mass", r"- ferrite outside: .* less stroke # g"),
    ),
    "production_tolerances": (
        ("ferrite", r"door_woofer_ferrite: # % of"),
        ("neodymium", r"door_woofer_neodymium: # % of"),
    ),
    "car_temperature": (
        ("margin spread", r"ferrite ring: .*; # ± # kA/m are left to the knee at -40 degC"),
        ("ferrite_cold ferrite_hot", r"ferrite ring: .*Bl # T m at -40 degC, # T m at 120 degC"),
        ("cold hot", r"neodymium disc: .*Bl # T m at -40 degC, # T m at 120 degC"),
    ),
    "cleaner_bass": (
        (
            "short tall",
            r"(?s)a car door.*?short winding.*?over 40 to 200 Hz: # % against # %",
        ),
        (
            "ferrite_within neodymium_within",
            r"(?s)a car door.*?100 Hz with what steel does within a period: # % against # %",
        ),
        (
            "short_within tall_within",
            r"(?s)a car door.*?short winding.*?200 Hz with what steel does within a period: "
            r"# % against # %",
        ),
        ("door_a door_b", r"(?s)a car door.*?clean sine, [^:]*: # dB against # dB"),
        ("box_a box_b", r"(?s)a vented bookshelf.*?clean sine, [^:]*: # dB against # dB"),
    ),
    "copper_sleeve": (
        ("bare", r"- 0 mm: .*10 mm # mH at 200 Hz"),
        ("thin", r"- 0\.4 mm: .*10 mm # mH at 200 Hz"),
        ("thick", r"- 1\.2 mm: .*10 mm # mH at 200 Hz"),
        ("thd_bare", r"- 0 mm: .*at 12 V # %"),
        ("thd_thin", r"- 0\.4 mm: .*at 12 V # %"),
        ("thd_least", r"- 0\.8 mm: .*at 12 V # %"),
        ("bare_constant", r"- 0 mm: .*Bl²/Re # N²/W"),
        ("thin_constant", r"- 0\.4 mm: .*Bl²/Re # N²/W"),
    ),
    "flat_force_factor": (
        ("drawn off", r"- as drawn: deviation # ± \S+ % \(\S+ % with the coil # mm"),
        ("drawn_constant", r"- as drawn: .*Bl²/Re # N²/W"),
        ("flat", r"- only the pole turned: deviation # ±"),
        ("constant", r"- only the pole turned: .*Bl²/Re # N²/W"),
        ("three_mass three_moving", r"- plain, 3 %: .*, motor # g, moving mass # g"),
        ("one_mass one_moving", r"- plain, 1 %: .*, motor # g, moving mass # g"),
        ("efficiency", r"- plain, 1 %: .*, efficiency # %"),
        ("aside", r"- plain, 1 %: .*\(# % with"),
        ("shaped", r"- shaped, 1 %: .*, motor # g"),
        ("three_limit two_limit easy", r"- from # to # % .* costs # g of motor .*\n- from 2 to 1"),
        ("one_limit dear", r"- from 2 to # % .* costs # g of motor"),
    ),
    "door_slam": (
        ("inertia cold hot", r"- ferrite, .*: # N of inertia; the magnet holds # N .* and # N at"),
        ("saved four whole", r"Plates 4 mm smaller take # g off .*, leave # N instead of # N"),
        ("cost", r"and cost # % of Bl"),
    ),
}
"""What to read off each answer: names, and the words around their numbers (#)."""
DERIVED: dict[str, Callable[[Figures], Figures]] = {
    "flat_bl": lambda f: {"cost": 100 * (1 - f["bl"] / f["drawn_bl"])},
    "ferrite_against_neodymium": lambda f: {
        "lighter": f["heavy"] / f["light"],
        "cheaper": 100 * (1 - f["cheap"] / f["dear"]),
    },
    "car_temperature": lambda f: {
        "ferrite": 100 * (1 - f["ferrite_hot"] / f["ferrite_cold"]),
        "neodymium": 100 * (1 - f["hot"] / f["cold"]),
    },
    "cleaner_bass": lambda f: dict(
        zip(
            ("less", "more"),
            sorted((f["door_a"] - f["door_b"], f["box_a"] - f["box_b"])),
            strict=True,
        )
    ),
    "flat_force_factor": lambda f: {
        "lost": 100 * (1 - f["constant"] / f["drawn_constant"]),
        "saved": 100 * (1 - f["shaped"] / f["one_mass"]),
    },
    "copper_sleeve": lambda f: {"cost": 100 * (1 - f["thin_constant"] / f["bare_constant"])},
}
"""What follows from them."""


def read_answer(study: str, text: str) -> Figures:
    """Return the figures of a study's answer; ValueError if a sentence is not there."""
    found: Figures = {}
    for names, words in ANSWERS[study]:
        match = re.search(words.replace("#", NUMBER), text)
        if match is None:
            raise ValueError(f"the answer of {study} has no sentence like {words!r}")
        found |= dict(zip(names.split(), map(float, match.groups()), strict=True))
    return found | (DERIVED[study](found) if study in DERIVED else {})


def rewritten(page: str, old: str, new: str) -> str:
    """Return a page with words replaced wherever its lines break; ValueError if they miss."""
    words, breaks = new.split(), r"(\s+)".join(map(re.escape, old.split()))
    match = re.search(breaks, page)
    if match is None:
        raise ValueError(f"the page does not say {old!r}")
    between = list(match.groups())
    if len(words) != len(between) + 1:
        between = [" "] * (len(words) - 1)
    text = "".join(w + b for w, b in zip(words, [*between, ""], strict=True))
    return page[: match.start()] + text + page[match.end() :]


def renew(
    page: str, old: Mapping[str, Figures], new: Mapping[str, Figures]
) -> tuple[str, list[str]]:
    """Return the page with the new figures, and what changed as ``old -> new``."""
    changed = []
    for quote in QUOTES:
        if quote.study in new:
            before, after = quote.text(old), quote.text(new)
            page = rewritten(page, before, after)
            changed += [f"{before} -> {after}"] if before != after else []
    return page, changed


def recorded() -> dict[str, Any]:
    """Return what ``quoted.json`` holds: figures, digest of the code and day of each run."""
    record: dict[str, Any] = json.loads(RECORD.read_text(encoding="utf-8"))
    return record


def main() -> None:
    """Take figures from runs, keep them, and rewrite the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, help="folder with the studies' folders")
    options = parser.parse_args()
    found = {name: run() for name, run in QUICK.items()}
    if options.results is not None:
        found |= {name: run() for name, run in LONGER.items()}
        for name in ANSWERS:
            answer = options.results / name / "answer.txt"
            if answer.exists():
                found[name] = read_answer(name, answer.read_text(encoding="utf-8"))
    record = recorded()
    figures = {name: entry["figures"] for name, entry in record.items()}
    page, changed = renew(PAGE.read_text(encoding="utf-8"), figures, found)
    day = datetime.date.today().isoformat()
    for name, values in found.items():
        record[name] = {"code": code_digest(), "day": day, "figures": values}
    RECORD.write_text(json.dumps(record, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    PAGE.write_text(page, encoding="utf-8")
    print("\n".join(changed) or "nothing changed")


if __name__ == "__main__":
    main()
