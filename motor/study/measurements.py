"""Measurement files: what was measured on a sample, and what is not known of it, in TOML.

::

    name = "sample 1"
    # tolerances = "plans/production.toml"   # take the unknowns from a study's [tolerances]

    [unknowns]                               # one standard deviation each
    "factors.remanence" = 0.03
    "factors.steel" = 0.05                   # flux density of the steel's curve
    "factors.turns" = 0.01
    "coil.rest_position" = "0.5 mm"
    "geometry.gap_width" = { prior = "1.66 mm", deviation = "0.03 mm" }

    [[measurement]]
    name = "rig"
    kind = "bl"                              # or force, gap_scan, flux, impedance
    file = "bl.csv"                          # beside this file; heads such as x_mm, bl_Tm
    columns = { x = "pos (mm)", bl = "BL [N/A]" }   # where heads have other names
    deviation = "0.5 %"                      # of a point: of the largest value, or with a unit
    gain = "1 %"                             # what the rig's gain may be wrong by
    offset = "0.1 mm"                        # and its zero along x (along z for scans)

    [[measurement]]
    kind = "impedance"
    file = "impedance.csv"                   # frequency_Hz, magnitude_ohm and phase_deg
    deviation = "1 %"                        # of each point's magnitude
    inductance = "2 %"                       # what the held coil's model may be wrong by
    # makes stiffness, mass and losses of what moves unknown too, unless [unknowns] names them

    [[measurement]]
    kind = "resistance"                      # or resonance, mass, dimension
    value = "3.41 ohm"
    deviation = "0.02 ohm"

    exchange = "Y33"                         # at the top: predict the sample with this grade

    [end_of_line]                            # figures of summary.json, in their units
    bl_at_rest_Tm = { least = 5.7, most = 6.3, deviation = 0.05 }   # deviation: of the station
    inductance_at_1_kHz_mH = { most = 0.9, deviation = 0.01 }       # coil held, at rest

Columns and settings of each kind stand in :data:`KINDS`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.toml_records import check_keys, quantity, string, table_of
from motor.base.units import parse_share
from motor.base.user_files import read_toml
from motor.design.design import Design
from motor.materials import magnet_named
from motor.study.differencing import sloped
from motor.study.end_of_line import INDUCTANCE, Limit, read_limits
from motor.study.measured_table import read_columns
from motor.study.parameters import Parameter
from motor.study.unknowns import Unknown, read_unknowns, smooth_parameter, with_motion

__all__ = ["KINDS", "Kind", "Measurement", "Measurements", "read_measurements"]

MOST_TABLES = 50
KEYS = ("name", "tolerances", "unknowns", "measurement", "end_of_line", "exchange")
COMMON = ("name", "kind", "deviation", "gain")


@dataclass(frozen=True)
class Kind:
    """A kind of measurement: what its table or its value holds.

    Parameters
    ----------
    words : str
    measured : mapping of role to kind of quantity
        Columns that were measured; one called "value" is a single number.
    along : mapping of role to kind of quantity
        Columns that say where.
    settings : mapping of key to (kind of quantity, "share" or None, default in SI or None)
        Without a default it must be given; an optional one has nan.
    shifted : str
        Role that an offset of the rig shifts, "" for none.
    """

    words: str
    measured: Mapping[str, str]
    along: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, tuple[str | None, float | None]] = field(default_factory=dict)
    shifted: str = ""


KINDS = {
    "bl": Kind("Bl over displacement", {"bl": "force_factor"}, {"x": "length"}, shifted="x"),
    "force": Kind(
        "force at a steady current, half the difference of both signs",
        {"force": "force"},
        {"x": "length"},
        {"current": ("current", None)},
        "x",
    ),
    "gap_scan": Kind(
        "radial flux density along z at a radius, averaged over the probe's height",
        {"b": "flux_density"},
        {"z": "length"},
        {"radius": ("length", None), "probe_height": ("length", 1e-3)},
        "z",
    ),
    "flux": Kind(
        "flux linkage of a search coil at a radius, pulled off from a height to far away",
        {"flux": "flux"},
        {"z": "length"},
        {"radius": ("length", None), "turns": (None, None)},
        "z",
    ),
    "impedance": Kind(
        "impedance in free air at small signals, magnitude with phase or without, or both parts",
        {"magnitude": "resistance"},
        {"frequency": "frequency"},
        {"inductance": ("share", 0.02)},
    ),
    "resistance": Kind(
        "direct-current resistance",
        {"value": "resistance"},
        settings={"temperature": ("temperature", math.nan)},
    ),
    "resonance": Kind("resonance in free air", {"value": "frequency"}),
    "mass": Kind("mass of moving parts, coil, magnets or a part", {"value": "mass"}),
    "dimension": Kind("a dimension or other parameter measured again", {"value": ""}),
}
"""Every kind of measurement."""


@dataclass(frozen=True)
class Measurement:
    """One table or one value.

    Parameters
    ----------
    name, kind : str
        ``kind`` is a key of :data:`KINDS`.
    along : mapping of role to (n,) array
        Where it was measured, SI.
    values : (n,) array
        SI.
    deviation : float or (n,) array
        Standard deviation of a point, SI.
    gain : float
        Standard deviation of the rig's gain, relative; 0 for an exact one.
    offset : float
        Standard deviation of the rig's zero, metres; 0 for an exact one.
    settings : mapping of str to float
    of : str
        Which mass or dimension.
    held : (n,) complex array or None
        Of an impedance: what the held coil adds to its resistance, ohm, once computed.
    """

    name: str
    kind: str
    along: Mapping[str, Floats]
    values: Floats
    deviation: float | Floats
    gain: float = 0.0
    offset: float = 0.0
    settings: Mapping[str, float] = field(default_factory=dict)
    of: str = ""
    held: Complexes | None = None

    def shifted(self, shift: float) -> Mapping[str, Floats]:
        """Return where it was measured if the rig's zero is off by a shift in metres."""
        role = KINDS[self.kind].shifted
        if not role or not shift:
            return self.along
        return {**self.along, role: self.along[role] + shift}

    def having(self, keep: Any) -> Measurement:
        """Return the measurement with some of its points only."""
        along = {role: values[keep] for role, values in self.along.items()}
        deviation = np.broadcast_to(self.deviation, self.values.shape)[keep]
        return dataclasses.replace(self, along=along, values=self.values[keep], deviation=deviation)


@dataclass(frozen=True)
class Measurements:
    """Everything that is known of a sample, and what is not.

    Parameters
    ----------
    name : str
    unknowns : tuple of Unknown
    taken : tuple of Measurement
    limits : tuple of Limit
        Of the test at the end of the line.
    exchange : str
        Magnet grade of another supplier, for which the sample is predicted; "" for none.
    """

    name: str
    unknowns: tuple[Unknown, ...]
    taken: tuple[Measurement, ...]
    limits: tuple[Limit, ...] = ()
    exchange: str = ""


def read_measurements(path: str | Path, design: Design) -> Measurements:
    """Read a measurement file and the tables it names.

    Raises
    ------
    InvalidInput
        With the field, or the table's line and column.
    """
    path = Path(path)
    data = read_toml(path, "measurement file")
    check_keys("", data, KEYS)
    unknowns = read_unknowns(path.parent, data, design)
    blocks = data.get("measurement")
    if not isinstance(blocks, list) or not 1 <= len(blocks) <= MOST_TABLES:
        limit = f"be a list [[measurement]] of 1 to {MOST_TABLES}"
        raise InvalidInput("measurement", limit, "nothing" if blocks is None else "something else")
    taken = [
        _measurement(design, path.parent, table_of(b, "measurement"), taken=k)
        for k, b in enumerate(blocks)
    ]
    names = [m.name for m in taken]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice is not None:
        raise InvalidInput("name", "differ between measurements", repr(twice), "measurement")
    if any(m.kind == "impedance" for m in taken):
        unknowns = with_motion(design, unknowns)
    name = string(data.get("name", path.stem), "name", "")
    limits = read_limits(data.get("end_of_line", {}), [*sloped(), INDUCTANCE])
    exchange = string(data.get("exchange", ""), "exchange", "")
    if exchange:
        magnet_named(exchange)
    return Measurements(name, unknowns, tuple(taken), limits, exchange)


def _measurement(design: Design, folder: Path, block: dict[str, Any], *, taken: int) -> Measurement:
    wanted = string(block.get("kind", ""), "kind", "measurement")
    if wanted not in KINDS:
        hint = near_names(wanted, list(KINDS))
        raise InvalidInput(
            "kind", f"be a kind of measurement ({hint})", repr(wanted), "measurement"
        )
    kind = KINDS[wanted]
    name = string(block.get("name", f"{wanted} {taken + 1}"), "name", "measurement")
    where = f"measurement {name}"
    single = "value" in kind.measured
    keys = [*COMMON, *kind.settings, *(["value"] if single else ["file", "columns"])]
    keys += ["offset"] * bool(kind.shifted) + ["of"] * (wanted in ("mass", "dimension"))
    check_keys(where, block, keys)
    settings = {}
    for key, (of, default) in kind.settings.items():
        if key not in block and default is None:
            raise InvalidInput(key, "be given", "nothing", where)
        if key not in block:
            settings[key] = float(default or 0)
        elif of == "share":
            settings[key] = _share(block[key], key, where)
        else:
            settings[key] = quantity(block[key], of, key, where)
    of = string(block.get("of", ""), "of", where)
    along: dict[str, Floats] = {}
    if single:
        parameter = _value_of(design, wanted, of, where)
        if "value" not in block:
            raise InvalidInput("value", "be given", "nothing", where)
        values = np.array([_read(parameter, block["value"], where)])
    else:
        columns = table_of(block.get("columns", {}), f"{where}.columns")
        file = folder / string(block.get("file", ""), "file", where)
        (role, of_quantity), *_ = kind.measured.items()
        parameter = Parameter(role, of_quantity)
        if wanted == "impedance":
            check_keys(f"{where}.columns", columns, ["frequency", *IMPEDANCE])
            along, values = _read_impedance(design, file, columns, where)
        else:
            check_keys(f"{where}.columns", columns, [*kind.along, *kind.measured])
            found = read_columns(file, [(kind.along, True), (kind.measured, True)], columns)
            along, values = {key: found[key] for key in kind.along}, found[role]
    if "deviation" not in block:
        raise InvalidInput("deviation", "be given: the scatter of a point", "nothing", where)
    deviation: float | Floats = _deviation(parameter, block["deviation"], values, where)
    if wanted == "impedance" and str(block["deviation"]).strip().endswith("%"):
        deviation = _share(block["deviation"], "deviation", where) * _magnitude(along, values)
    gain = 0.0 if "gain" not in block else _share(block["gain"], "gain", where)
    offset = 0.0 if "offset" not in block else quantity(block["offset"], "length", "offset", where)
    if offset < 0:
        raise InvalidInput("offset", "be 0 or more: a standard deviation", offset, where)
    return Measurement(name, wanted, along, values, deviation, gain, offset, settings, of)


IMPEDANCE = ("magnitude", "phase", "real", "imaginary")


def _read_impedance(
    design: Design, file: Path, columns: dict[str, Any], where: str
) -> tuple[dict[str, Floats], Floats]:
    """Return frequency and part (0 real, 1 imaginary, 2 magnitude) of all values, and those."""
    parts = design.moving_parts
    if parts is None or parts.mechanical_resistance is None:
        limit = "wait for [moving_parts] with mechanical_resistance in the design"
        raise InvalidInput("kind", limit, "impedance", where)
    ohm = dict.fromkeys(IMPEDANCE, "resistance") | {"phase": "angle"}
    groups = [({key: ohm[key] for key in keys}, False) for keys in (("magnitude",), ("phase",))]
    both = ({key: ohm[key] for key in ("real", "imaginary")}, False)
    found = read_columns(file, [({"frequency": "frequency"}, True), *groups, both], columns)
    frequency = found["frequency"]
    if not (frequency > 0).all():
        raise InvalidInput("frequency", "be greater than 0", float(frequency.min()), where)
    kinds: tuple[int, ...] = (0, 1)
    if "real" in found:
        values = [found["real"], found["imaginary"]]
    elif "phase" in found and "magnitude" in found:
        z = found["magnitude"] * np.exp(1j * found["phase"])
        values = [z.real, z.imag]
    elif "magnitude" in found:
        values, kinds = [found["magnitude"]], (2,)
    else:
        limit = "have a column magnitude, with phase or without, or real and imaginary"
        raise InvalidInput(f"table {file.name}", limit, "neither", where)
    part = np.repeat(np.array(kinds, float), len(frequency))
    return {"part": part, "frequency": np.tile(frequency, len(kinds))}, np.concatenate(values)


def _magnitude(along: Mapping[str, Floats], values: Floats) -> Floats:
    """Return the impedance's magnitude at each value of either part."""
    if along["part"][0] == 2:
        return np.abs(values)
    real, imaginary = np.split(values, 2)
    return np.tile(np.hypot(real, imaginary), 2)


def _value_of(design: Design, wanted: str, of: str, where: str) -> Parameter:
    """Return what a single value is of, so that it can be read."""
    if wanted == "dimension":
        try:
            return smooth_parameter(design, of)
        except InvalidInput as error:
            raise error.within(where) from None
    if wanted == "mass":
        known = ["moving", "coil", "motor", *(r.name for r in design.regions)]
        if of not in known:
            raise InvalidInput("of", f"be one of {', '.join(known)}", repr(of), where)
    if (wanted == "resonance" or of == "moving") and design.moving_parts is None:
        raise InvalidInput("kind", "wait for [moving_parts] in the design", wanted, where)
    return Parameter("value", KINDS[wanted].measured["value"])


def _read(parameter: Parameter, value: object, where: str) -> float:
    try:
        return float(parameter.read(value))
    except InvalidInput as error:
        raise error.within(where) from None


def _deviation(parameter: Parameter, value: object, values: Floats, where: str) -> float:
    """Read the standard deviation of a point: a share of the largest value, or with a unit."""
    if isinstance(value, str) and value.strip().endswith("%"):
        found = _share(value, "deviation", where) * float(np.abs(values).max())
    else:
        found = _read(Parameter("deviation", parameter.kind), value, where)
    if not found > 0:
        raise InvalidInput("deviation", "be greater than 0", value, where)
    return found


def _share(value: object, name: str, where: str) -> float:
    try:
        return parse_share(value if isinstance(value, str) else repr(value), name)
    except InvalidInput as error:
        raise error.within(where) from None
