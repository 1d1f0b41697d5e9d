"""How honest a fit is: synthetic samples with a known truth.

``python -m tests.verification.coverage_fit --samples 200`` draws random motors, builds each with
magnet, steel, gap and coil's place drawn from the priors, solves it on a finer mesh, and measures
it: Bl(x) by a rig and B_r(z) by a probe whose gains and zeros are drawn too, with noise and
outliers, and the resistance.  Then it counts how often the truth lies within what a fit states.

``--impedance`` adds an impedance in free air, with the permeability of small fields, and stiffness,
mass and losses of what moves, among the unknowns: computed from the sample's own field and
permeability at every frequency of SOLVED on its finer mesh, not by what a fit takes in its place,
with noise and outliers of 1 %; conductivities of steel and magnets and a factor on what the held
coil adds are drawn too.

``--wrong KIND`` makes every sample one that no unknown explains, and counts how many are told:
"grade" has another magnet grade (remanence 15 % less, five prior deviations), "rig" adds
to Bl(x) 2 % of its largest value in one and a half waves, "probe" travels 10 % further than it
says, "steel" has the curve of another steel (which steel's unknown may well explain).
"""

from __future__ import annotations

import argparse
import dataclasses
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.stats import chi2

import motor
from geometries.outside_magnet import OutsideMagnet
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.design.moving_parts import MovingParts
from motor.materials import Steel
from motor.results.impedance import MAGNET_SPREAD, blocked_impedance
from motor.results.motor_result import MotorResult
from motor.study.fitting import fit
from motor.study.forward import built, reading, wound
from motor.study.inferred import Fit
from motor.study.measurements import Measurement, Measurements
from motor.study.parameters import Draft, parameter_named
from motor.study.unknowns import PERMEABILITY, Unknown, smooth_parameter, with_motion
from tests.random_motors import random_designs

NOISE, OUTLIERS, FAR = 0.005, 0.03, 10.0
"""Scatter of a point over the largest value, share of outliers, and their size in scatters."""
GAIN, ZERO, FACTOR = 0.01, 0.05e-3, 0.02
OHMS, FREQUENCIES = 0.01, np.geomspace(10.0, 10e3, 31)
"""Scatter of a point of the impedance over its magnitude, and hertz."""
SOLVED = np.geomspace(10.0, 10e3, 16)
"""Hertz, between which the sample's own impedance is interpolated."""
WRONG = ("", "grade", "rig", "probe", "steel")
OTHER_STEEL = {"low-carbon-a": "low-carbon-b", "low-carbon-b": "low-carbon-a"}


@dataclass(frozen=True)
class Case:
    """One sample: what was true, what came out, seconds of the fit."""

    truth: Mapping[str, float]
    found: Fit
    seconds: float

    def scores(self) -> dict[str, float]:
        """Return how many stated deviations each unknown is off."""
        return {
            one.name.rpartition(".")[2]: (one.estimate - self.truth[one.name]) / one.deviation
            for one in self.found.unknowns
        }

    def distance(self) -> float:
        """Return the squared distance of the truth in the posterior's own measure."""
        off = [(u.estimate - self.truth[u.name]) / u.prior_deviation for u in self.found.unknowns]
        return float(np.array(off) @ np.linalg.solve(self.found.covariance, off))


def unknowns_of(design: Design) -> tuple[Unknown, ...]:
    """Return what is not known of a sample: magnet, steel, gap, the coil's place."""
    outside = isinstance(design.geometry, OutsideMagnet)
    gap = "geometry.gap_width" if outside else "geometry.cup_inner_diameter"
    wide = 0.03 * design.geometry.gap.width * (1 if outside else 2)
    place = min(0.5e-3, 0.08 * design.geometry.gap.depth)
    deviations = {
        "factors.remanence": 0.03,
        "factors.steel": 0.05,
        gap: wide,
        "coil.rest_position": place,
    }
    return tuple(
        Unknown(parameter_named(design, name), float(Draft(design).get(name)), deviation)
        for name, deviation in deviations.items()
    )


def _moving(design: Design) -> Design:
    """Return a design with moving parts that resonate at 40 Hz."""
    least = design.coil.mass_with_enamel + design.coil.former_mass
    mass = 3.0 * least
    parts = MovingParts(
        total_mass=mass, stiffness=(80 * np.pi) ** 2 * mass, mechanical_resistance=40 * np.pi * mass
    )
    return design.replace(moving_parts=parts)


def _impedance(sample: MotorResult, rng: np.random.Generator) -> Measurement:
    """Return what is read of the sample's impedance, real and imaginary."""
    parts = sample.design.moving_parts
    assert parts is not None
    assert parts.total_mass is not None
    assert parts.mechanical_resistance is not None
    field = dataclasses.replace(sample.field, coarse=sample.field.fine)
    other = dataclasses.replace(_other_metal(sample, rng), field=field)
    blocked = blocked_impedance(other, [0.0], SOLVED.tolist())
    linkage = (blocked.impedance[:, 0] - blocked.coil_resistance) / SOLVED
    added = FREQUENCIES * CubicSpline(np.log(SOLVED), linkage)(np.log(FREQUENCIES))
    held = sample.resistance + (1 + FACTOR * rng.standard_normal()) * added
    omega = 2 * np.pi * FREQUENCIES
    losses = parts.mechanical_resistance + 1j * (
        omega * parts.total_mass - parts.stiffness_at_rest / omega
    )
    z = held + sample.bl_curve.at_rest.value**2 / losses
    noise = rng.standard_normal((2, len(z)))
    noise[rng.random(noise.shape) < OUTLIERS] *= FAR
    read = z + OHMS * np.abs(z) * (noise[0] + 1j * noise[1])
    along = {
        "frequency": np.tile(FREQUENCIES, 2),
        "part": np.repeat([0.0, 1.0], len(FREQUENCIES)),
    }
    return Measurement(
        "bridge",
        "impedance",
        along,
        np.concatenate([read.real, read.imag]),
        np.tile(OHMS * np.abs(read), 2),
        settings={"inductance": FACTOR},
    )


def _other_metal(sample: MotorResult, rng: np.random.Generator) -> MotorResult:
    """Return the sample with other conductivities of steel and magnets; half a spread is one s."""
    found = sample.design.materials
    drawn = {}
    for kind, of, spread in (
        ("steel", found.steel_of, None),
        ("magnet", found.magnet_of, MAGNET_SPREAD),
    ):
        region = next(r.name for r in sample.design.regions if r.role.value == kind)
        own = of(region)
        wide = own.conductivity_spread if isinstance(own, Steel) else spread
        factor = 1 + wide / 2 * rng.standard_normal()
        drawn[kind] = dataclasses.replace(own, conductivity=own.conductivity * factor)
    materials = dataclasses.replace(found, **drawn)
    return dataclasses.replace(sample, design=sample.design.replace(materials=materials))


def _sample(
    design: Design, truth: dict[str, float], wrong: str, rng: np.random.Generator
) -> MotorResult:
    if wrong == "grade":
        truth["factors.remanence"] = 0.85
    sample = built(wound(design), truth)
    if wrong == "steel":
        other = OTHER_STEEL[str(design.materials.steel)]
        sample = sample.replace(materials=dataclasses.replace(sample.materials, steel=other))
    return motor.solve(sample, accuracy=1e-4)


def _noisy(values: Floats, rng: np.random.Generator) -> Floats:
    """Return values with noise, and outliers among them."""
    scatter = NOISE * np.abs(values).max() * rng.standard_normal(len(values))
    scatter[rng.random(len(values)) < OUTLIERS] *= FAR
    return np.asarray(values + scatter)


def _measured(
    sample: MotorResult, design: Design, wrong: str, rng: np.random.Generator
) -> tuple[Measurement, ...]:
    """Return what rig, probe and meter read."""
    reach = 0.7 * min(-sample.bl_curve.x[0], sample.bl_curve.x[-1])
    x = np.linspace(-reach, reach, 31)
    gap = design.geometry.gap
    z = np.linspace(gap.bottom - gap.width, gap.top + gap.width, 31)
    height, middle = 0.3 * gap.width, design.coil.mean_radius
    plain = (
        Measurement("rig", "bl", {"x": x}, x, 1.0, GAIN, ZERO),
        Measurement(
            "probe",
            "gap_scan",
            {"z": z},
            z,
            1.0,
            GAIN,
            ZERO,
            {"radius": middle, "probe_height": height},
        ),
        Measurement("meter", "resistance", {}, np.zeros(1), 1.0, settings={"temperature": 293.15}),
    )
    taken = []
    for one in plain:
        gain, zero = 1 + one.gain * rng.standard_normal(), one.offset * rng.standard_normal()
        true = one
        if wrong == "probe" and one.name == "probe":
            true = dataclasses.replace(one, along={"z": 1.1 * z})
        read = gain * reading(sample, true, zero)
        if wrong == "rig" and one.name == "rig":
            read = read + 0.02 * read.max() * np.sin(1.5 * np.pi * x / reach)
        values = _noisy(read, rng) if len(read) > 1 else read * (1 + NOISE * rng.normal())
        size = NOISE * float(np.abs(read).max())
        taken.append(dataclasses.replace(one, values=values, deviation=size))
    return tuple(taken)


def cases(seed: int, count: int, wrong: str = "", *, impedance: bool = False) -> Iterator[Case]:
    """Yield fits of samples, those whose drawn values cannot be built left out."""
    rng = np.random.default_rng([seed, len("samples")])  # no numbers of those the designs are of
    for design in random_designs(seed, count):
        unknowns = unknowns_of(design)
        if impedance:
            design = _moving(design)
            steel = Unknown(smooth_parameter(design, PERMEABILITY), 1.0, 0.25)
            unknowns = with_motion(design, (*unknowns, steel))
        truth = {u.name: u.prior + u.deviation * float(rng.standard_normal()) for u in unknowns}
        try:
            sample = _sample(design, truth, wrong, rng)
        except (InvalidInput, MotorError):
            continue
        taken = _measured(sample, design, wrong, rng)
        if impedance:
            taken = (*taken, _impedance(sample, rng))
        measured = Measurements("synthetic", unknowns, taken)
        began = time.perf_counter()
        yield Case(truth, fit(design, measured), time.perf_counter() - began)


def main() -> None:
    """Print one line an unknown, and how many were told to be wrong."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--samples", type=int, default=200)
    parser.add_argument("--seed", type=int, default=4242)
    parser.add_argument("--wrong", choices=WRONG, default="")
    parser.add_argument("--impedance", action="store_true")
    given = parser.parse_args()
    found = list(cases(given.seed, given.samples, given.wrong, impedance=given.impedance))
    print("| unknown | samples | inside 95 % | mean | spread | posterior / prior, median |")
    print("|---|---|---|---|---|---|")
    names = ("remanence", "steel", "rest_position", "gap_width", "cup_inner_diameter")
    if given.impedance:
        names += ("permeability", "stiffness", "total_mass", "mechanical_resistance")
    for name in names:
        scores = np.array([c.scores()[name] for c in found if name in c.scores()])
        left = [u.left for c in found for u in c.found.unknowns if u.name.endswith(name)]
        if len(scores):
            print(
                f"| {name} | {len(scores)} | {np.mean(np.abs(scores) < 1.96):.1%} | "
                f"{scores.mean():+.2f} | {scores.std():.2f} | {np.median(left):.2f} |"
            )
    limit = chi2.ppf(0.95, len(found[0].found.unknowns))
    joint = np.mean([c.distance() < limit for c in found])
    told = np.mean([any("outliers" not in w for w in c.found.warnings()) for c in found])
    seconds = np.median([c.seconds for c in found])
    steps = np.mean([c.found.steps for c in found])
    print(f"\nall together inside 95 %: {joint:.1%}; told to be wrong: {told:.1%}; ")
    print(f"seconds a fit, median {seconds:.2f}; Gauss-Newton steps, mean {steps:.1f}")


if __name__ == "__main__":
    main()
