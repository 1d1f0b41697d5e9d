"""Solving the designs of a study: fingerprints of inputs, shared fields, flat results."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np

from geometries import Role
from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput, MachineError, MotorError
from motor.base.quantity import records
from motor.design.design import Design
from motor.driver.run import steel_band, system_of
from motor.materials import conductor_named, former_named
from motor.results.assembly import assemble
from motor.results.centring import centring
from motor.results.coil_figures import inductance_figures
from motor.results.coil_map import coil_map
from motor.results.demagnetisation import thermal_cycle
from motor.results.heat import heat
from motor.results.motor_field import solved_field
from motor.results.motor_result import read_off_other_coil, solve
from motor.results.quantities import (
    ASSEMBLY,
    AT_TEMPERATURE,
    CENTRING,
    COIL_CURRENT,
    HEAT,
    INDUCTANCE,
    TONE,
    part_forces,
)
from motor.results.summary import figures_of
from motor.study.slopes import Sides, differences, readings

__all__ = [
    "Around",
    "Job",
    "Measure",
    "Outcome",
    "around_job_of",
    "code_digest",
    "digest",
    "job_of",
    "of_machine",
    "solve_jobs",
]

PHYSICS = (
    *("base", "materials", "design", "field", "results", "driver"),
    *("study/evaluate.py", "study/neighbours.py", "study/parameters.py", "study/slopes.py"),
)
"""Rooms and files of the program that results depend on."""


@dataclass(frozen=True)
class Measure:
    """What to find out beside the usual results.

    Parameters
    ----------
    coldest, hottest : float or None
        Temperatures in kelvin at which the margin to demagnetisation is wanted.
    current : float
        Peak coil current in ampere that opposes the magnets there.
    off_centre : bool
        Whether the pull on parts that stand off centre is wanted.
    assembly : tuple of str
        Parts whose force while they are brought to the others is wanted; a series of solves.
    holding : float or None
        Force in newton whose distance is wanted then.
    inductance_at : float or None
        Frequency in Hz at which the coil's inductance is wanted.
    coil_current : float or None
        Peak coil current in ampere under which Bl at rest is wanted.
    tone_at, tone_voltage : float or None
        Tone in Hz and V r.m.s. whose distortion is wanted; takes seconds.
    """

    coldest: float | None = None
    hottest: float | None = None
    current: float = 0.0
    off_centre: bool = False
    assembly: tuple[str, ...] = ()
    holding: float | None = None
    inductance_at: float | None = None
    coil_current: float | None = None
    tone_at: float | None = None
    tone_voltage: float | None = None


@dataclass(frozen=True)
class Around:
    """What derivatives to find beside a design's results.

    Parameters
    ----------
    sides : tuple of Sides or None
        A pair of designs to either side by each parameter.
    keys : tuple of str
        Of the figures.
    rough : bool
        True for one mesh and these figures only, in a third of the time.
    """

    sides: tuple[Sides | None, ...]
    keys: tuple[str, ...]
    rough: bool


@dataclass(frozen=True)
class Job:
    """One design to be solved.

    Parameters
    ----------
    fingerprint : str
        Of everything the results depend on: design, materials' values, measure and program.
    field : str
        Of what the field depends on: designs that differ only in the coil share it.
    design : Design
    measure : Measure
    around : Around or None
        What derivatives to find too.
    """

    fingerprint: str
    field: str
    design: Design
    measure: Measure
    around: Around | None = None


@dataclass(frozen=True)
class Outcome:
    """What came of a job: results, or the error.

    Parameters
    ----------
    fingerprint : str
    results : mapping of str to number, text or None, or None
        As in :meth:`motor.MotorResult.summary`, numbers and words only, and a few more; with
        derivatives under "slopes", by figure and parameter, and "refused", why there are none.
    error : str
        Empty if all went well.
    seconds : float
        Time it took.
    code : str
        Digest of the program that computed it.
    machine : bool
        True if the machine failed and not the design: nothing is known of the design then.
    """

    fingerprint: str
    results: Mapping[str, Any] | None
    error: str
    seconds: float
    code: str
    machine: bool = False


@functools.cache
def code_digest() -> str:
    """Return a digest of all source files and tables that results depend on."""
    digest = hashlib.sha256()
    for package in ("geometries", "motor"):
        root = resources.files(package)
        files: list[tuple[str, Any]] = []
        stack = [("", root)]
        while stack:
            prefix, folder = stack.pop()
            for entry in folder.iterdir():
                name = prefix + entry.name
                if entry.is_dir():
                    stack.append((name + "/", entry))
                elif entry.name.endswith((".py", ".csv")):
                    files.append((name, entry))
        for name, entry in sorted(files, key=lambda item: item[0]):
            if package == "geometries" or name.split("/")[0] in PHYSICS or name in PHYSICS:
                digest.update(name.encode() + b"\0" + entry.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def _plain(value: Any) -> Any:
    """Return a value as lists, numbers and text that identify it."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        items = {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return [type(value).__name__, items]
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value


def digest(value: Any) -> str:
    """Return a digest of records, numbers and text."""
    text = json.dumps(_plain(value), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def job_of(design: Design, measure: Measure | None = None) -> Job:
    """Return the job of solving a design."""
    measure = measure or Measure()
    materials, regions = design.materials, design.regions
    parts = {region.name: materials.material_of(region) for region in regions}
    loss = materials.demagnetisation
    prices = {name: materials.price_of(part) for name, part in parts.items()}
    kelvin = [design.temperature, materials.temperatures]
    field = digest([regions, design.geometry.gap, parts, kelvin, loss, code_digest()])
    coil = design.coil
    wound: list[Any] = [conductor_named(one.wire.material) for one in coil.each]
    if coil.former_material:
        wound.append(former_named(coil.former_material))
    prices |= {m.name: materials.price_of(m) for m in wound}
    rest = [coil, wound, prices, design.moving_parts, design.stroke, measure]
    if design.heat.power is not None:
        rest += [design.heat, design.amplifier]
    return Job(digest([field, rest]), field, design, measure)


def around_job_of(design: Design, measure: Measure, around: Around) -> Job:
    """Return the job of solving a design together with its derivatives."""
    own = job_of(design, measure).fingerprint
    ends = [
        None if s is None else [job_of(d, measure).fingerprint for d in (s.low, s.high)] + [s.step]
        for s in around.sides
    ]
    print_ = digest([own, ends, around.keys, around.rough])
    return Job(print_, print_, design, measure, around)


def solve_jobs(jobs: Sequence[Job]) -> list[Outcome]:
    """Solve jobs that share a field: one field solve, then every coil read off.

    Errors become part of the outcome, each under its own design.
    """
    if jobs[0].around is not None:
        return [_solved_around(job, job.around) for job in jobs if job.around is not None]
    began = time.perf_counter()
    first = jobs[0].design
    try:
        field = solved_field(first)
    except Exception as error:
        seconds = (time.perf_counter() - began) / len(jobs)
        words, machine = _named(error), of_machine(error)
        return [Outcome(j.fingerprint, None, words, seconds, code_digest(), machine) for j in jobs]
    shared = (time.perf_counter() - began) / len(jobs)
    found: list[tuple[Job, Any, dict[str, Any], Exception | None, float]] = []
    for job in jobs:
        began = time.perf_counter()
        result, record, problem = None, {}, None
        try:
            result = read_off_other_coil(job.design, field)
            record = _flat(result)
        except Exception as error:
            problem = error
        found.append((job, result, record, problem, shared + time.perf_counter() - began))
    outcomes = []
    built: dict[Measure, dict[str, Any]] = {}
    for job, result, record, problem, seconds in found:
        began, failed = time.perf_counter(), problem
        if failed is None:
            try:
                record |= _margins(result, job.measure)
                record |= _warmth(result) | _coil_field(result, job.measure)
                if job.measure not in built:  # the coil changes nothing of it
                    built[job.measure] = _building(result, job.measure)
                record |= built[job.measure]
            except Exception as error:
                failed = error
        spent = seconds + time.perf_counter() - began
        if failed is None:
            outcomes.append(Outcome(job.fingerprint, record, "", spent, code_digest()))
        else:
            text, machine = _named(failed), of_machine(failed)
            outcomes.append(Outcome(job.fingerprint, None, text, spent, code_digest(), machine))
    return outcomes


def _solved_around(job: Job, around: Around) -> Outcome:
    """Return results and derivatives of one design."""
    began = time.perf_counter()
    record: dict[str, Any] | None = None
    words, machine = "", False
    try:
        result = solve(job.design, uncertainty=not around.rough)
        record = readings(result, around.keys) | _margins(result, job.measure)
        if not around.rough:
            record |= _flat(result) | _warmth(result) | _building(result, job.measure)
            record |= _coil_field(result, job.measure)
        slopes, refused = differences(result, around.sides, around.keys, _warmth_of(job))
        record |= {"slopes": slopes, "refused": refused}
    except Exception as error:
        record, words, machine = None, _named(error), of_machine(error)
    seconds = time.perf_counter() - began
    return Outcome(job.fingerprint, record, words, seconds, code_digest(), machine)


def _warmth_of(job: Job) -> dict[str, float]:
    """Return the least magnet's remanence at the measure's temperatures over the design's own."""
    design = job.design
    magnets = [region.name for region in design.regions if region.role is Role.MAGNET]
    grades = [design.materials.magnet_of(name) for name in magnets]
    found = {}
    for side, kelvin in (("cold", job.measure.coldest), ("hot", job.measure.hottest)):
        if kelvin is not None and grades:
            ways = [g.remanence_at(kelvin) / g.remanence_at(design.temperature) for g in grades]
            found[side] = min(ways)
    return found


def of_machine(error: BaseException | None) -> bool:
    """Return whether the machine failed (memory, disk, a library) and not the design."""
    while error is not None:
        if isinstance(error, MemoryError | OSError | ImportError | MachineError):
            return True
        error = error.__cause__
    return False


def _named(error: Exception) -> str:
    """Return an error as text; one that the program does not raise on purpose with its kind."""
    if isinstance(error, InvalidInput | MotorError):
        return str(error) or type(error).__name__
    return f"{type(error).__name__}: {error}"


def _flat(result: Any) -> dict[str, Any]:
    """Return the figures of a result that stand in the rows of a study."""
    field = result.field
    return {
        "geometry": result.design.geometry.kind,
        "temperature_degC": round(result.design.temperature - ZERO_CELSIUS, 9),
        **figures_of(result),
        **records(part_forces(result), result),
        "newton_iterations": field.iterations,
        "newton_residual": field.residual,
        "unknowns": field.unknowns,
        "triangles": field.triangles,
    }


def _warmth(result: Any) -> dict[str, Any]:
    """Return where the programme of the design's section [heat] settles; nothing without one."""
    power = result.design.heat.power
    if power is None:
        return {}
    return records(HEAT, heat(result, power))


def _coil_field(result: Any, measure: Measure) -> dict[str, Any]:
    """Return inductance, Bl under current and distortion, where asked for."""
    found: dict[str, Any] = {}
    if measure.inductance_at is not None:
        found |= records(INDUCTANCE, inductance_figures(result, measure.inductance_at))
    if measure.coil_current is not None:
        under = coil_map(result, [0.0], measure.coil_current * np.array([0.5, 1.0]))
        found |= records(COIL_CURRENT, under)
    if measure.tone_at is not None and measure.tone_voltage is not None:
        system = system_of(result, compute=True)
        tones = [measure.tone_at]
        for band in steel_band(system, measure.tone_voltage, tones, result=result):
            found |= records(TONE, band)
    return found


def _building(result: Any, measure: Measure) -> dict[str, Any]:
    """Return what parts off centre and parts that are put together pull with, where asked for."""
    found: dict[str, Any] = {}
    if measure.off_centre:
        found |= records(CENTRING, centring(result))
    if measure.assembly:
        together = assemble(result.design, measure.assembly, holding=measure.holding)
        found |= records(ASSEMBLY, together)
    return found


def _margins(result: Any, measure: Measure) -> dict[str, Any]:
    """Return the margins to the knee at the measure's temperatures, and what is lost for good."""
    found: dict[str, Any] = {}
    for side, kelvin in (("cold", measure.coldest), ("hot", measure.hottest)):
        if kelvin is not None:
            cycle = thermal_cycle(result, kelvin, coil_current=measure.current)
            found |= records(AT_TEMPERATURE[side], cycle)
    return found
