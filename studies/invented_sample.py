"""Measurements of a sample that never was, for studies/first_sample.py: a hidden truth and noise.

``python -m studies.invented_sample`` writes studies/samples anew.  The sample is the ferrite door
woofer with what TRUTH says, solved on a finer mesh than any fit uses; rig and probe have gains and
zeros of their own, points scatter, and two of them are far out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

import motor
from motor.base.arrays import Floats
from motor.study.forward import built, reading, wound
from motor.study.measurements import Measurement

HERE = Path(__file__).parent
DESIGN = HERE / "designs" / "door_woofer_ferrite.toml"
SAMPLES = HERE / "samples"
TRUTH = {
    "factors.remanence": 0.962,
    "factors.steel": 0.97,
    "coil.rest_position": 0.42e-3,
    "geometry.gap_width": 1.672e-3,
    "coil.wire.bare_diameter": 0.2231e-3,
}
RIGS = {"rig": (1.006, 0.04e-3), "probe": (0.994, -0.06e-3)}
"""Gain and zero of each, metres."""
NOISE = 0.005
"""Scatter of a point over the largest value."""
OUTLIERS = {"rig": (9,), "probe": (23,)}
SEED, ACCURACY = 1906, 1e-4


def _rows(taken: Measurement, sample: motor.MotorResult, rng: np.random.Generator) -> Floats:
    """Return where and what was read, in mm and in the unit of the table's head."""
    gain, zero = RIGS[taken.name]
    values = gain * reading(sample, taken, zero)
    noise = NOISE * values.max() * rng.standard_normal(len(values))
    noise[list(OUTLIERS[taken.name])] += 8 * NOISE * values.max()
    (place,) = taken.along.values()
    return np.stack([1e3 * place, values + noise], axis=1)


def _table(path: Path, heads: str, rows: Floats) -> None:
    lines = ["# Invented demo data.", heads, *(f"{a:.4g},{b:.5g}" for a, b in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Solve the sample, measure it, and write the tables."""
    rng = np.random.default_rng(SEED)
    sample = motor.solve(built(wound(motor.read_design(DESIGN)), TRUTH), accuracy=ACCURACY)
    x, z = np.linspace(-8e-3, 8e-3, 41), np.linspace(-6e-3, 6e-3, 37)
    rig = Measurement("rig", "bl", {"x": x}, x, 1.0)
    settings = {"radius": 16.15e-3, "probe_height": 1e-3}
    probe = Measurement("probe", "gap_scan", {"z": z}, z, 1.0, settings=settings)
    _table(SAMPLES / "first_sample_bl.csv", "x_mm,bl_Tm", _rows(rig, sample, rng))
    rows = _rows(probe, sample, rng) * [1, 1e3]
    _table(SAMPLES / "first_sample_scan.csv", "z_mm,b_mT", rows)
    print(f"resistance {sample.resistance * (1 + 0.002 * rng.standard_normal()):.4g} ohm")
    print(f"written: {SAMPLES}")


if __name__ == "__main__":
    main()
