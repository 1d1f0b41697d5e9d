"""What was built: the magnet, the gap, the steel, the coil, or only the rig, of a first sample.

Run ``python -m studies.first_sample --out out/first_sample``.  The measurements of studies/samples
are invented: another mesh, a hidden truth and noise (studies/invented_sample.py).  The answer shows
truth against estimate.
"""

from __future__ import annotations

from pathlib import Path

import motor
from motor.report.files.fit import save_fit
from motor.report.tables.fit_record import Consequences, consequences
from motor.study.fitting import fit
from motor.study.measurements import read_measurements
from studies.invented_sample import DESIGN, RIGS, SAMPLES, TRUTH
from studies.options import as_command, read_options

KNOWN = {"yes": "known", "partly": "known in part", "no": "hardly known"}
"""From these measurements."""


def answer(found: Consequences) -> str:
    """Return truth against estimate, and what follows, in words."""
    lines = ["What was built (expected; inferred ± one standard deviation; true):"]
    true = TRUTH | {f"{name}.gain": gain for name, (gain, _) in RIGS.items()}
    true |= {f"{name}.offset": zero for name, (_, zero) in RIGS.items()}
    for one in (*found.fit.unknowns, *found.fit.rigs):
        of = one.unit.of_si
        off = abs(one.estimate - true[one.name]) / one.deviation
        expected, got, deviation, truth = (
            of(v) for v in (one.prior, one.estimate, one.deviation, true[one.name])
        )
        unit = f" {one.unit.words}" if one.unit.words else ""
        lines.append(
            f"- {one.name}: {expected:.5g}; {got:.5g} ± {deviation:.2g}; {truth:.5g}{unit}, "
            f"{off:.1f} deviations off, {KNOWN[one.verdict]}"
        )
    bl = next(one for one in found.figures if one.figure == "bl_at_rest_Tm")
    lines.append(
        f"Bl at rest: {bl.before:.4g} ± {bl.before_deviation:.2g} T m as drawn, {bl.after:.4g} "
        f"± {bl.after_deviation:.2g} T m inferred."
    )
    lines.append(f"To measure next: {found.further[0].words}.")
    lines += [f"Told: {warning}." for warning in found.fit.warnings()]
    return "\n".join(lines)


def main() -> None:
    """Infer the sample, write files and figures, and print the answer."""
    folder: Path = read_options("first_sample", __doc__, workers=False).out
    design = motor.read_design(DESIGN)
    found = consequences(fit(design, read_measurements(SAMPLES / "first_sample.toml", design)))
    text = answer(found)
    save_fit(found, folder, DESIGN.name, answer=text)
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
