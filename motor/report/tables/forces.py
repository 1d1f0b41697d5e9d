"""Forces on parts and joints as tables for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from motor.results.centring import LIMITS

if TYPE_CHECKING:
    from motor.results.assembly import Assembly
    from motor.results.centring import Centring
    from motor.results.endurance import Endurance
    from motor.results.loads import MotorLoads
    from motor.results.magnetising import Magnetising

__all__ = [
    "ASSEMBLY_CAUTION",
    "CAUTION",
    "PULSE_CAUTION",
    "assembly_table",
    "centring_table",
    "endurance_table",
    "forces_tables",
    "magnetising_table",
]

PULSE_CAUTION = (
    "Caution: a magnetising pulse discharges kilojoules at kilovolts; coils burst, loose steel "
    "flies, and pacemakers fail. Only in an enclosed, interlocked fixture, by qualified people "
    "under local rules for high voltage."
)
GRAVITY = 9.80665
ASSEMBLY_CAUTION = (
    "Caution: parts that attract each other close suddenly and pinch fingers; magnets shatter, and "
    "splinters fly. Never hold such parts by hand: guide them in a fixture of non-magnetic "
    "material that holds several times the largest force over the whole way, wear eye protection, "
    "keep steel, pacemakers and bystanders away, and follow local rules and qualified practice."
)

CAUTION = (
    "Caution: parts that attract each other close suddenly, pinch and shatter; assemble them in a "
    "fixture that holds more than the force shown. Strength of joints is to be tested, at the "
    "temperatures and after the ageing that local rules and the car maker ask for; this is no "
    "substitute."
)


def forces_tables(loads: MotorLoads) -> list[Table]:
    """Return a table of parts and one of joints."""
    return [_parts(loads), _joints(loads)]


def assembly_table(found: Assembly) -> list[Table | str]:
    """Return the force over distance, and below it what it comes to."""
    moving, standing = (_words(names) for names in (found.moving, found.standing))
    title = f"{found.name}: {moving} towards {standing}, from {found.side}"
    table = _table(title, ["distance mm", "pull N", "±"])
    for x, pull, spread in zip(found.distance, found.pull, found.uncertainty, strict=True):
        table.add_row(f"{x * 1e3:.3f}", f"{pull:+.4g}", f"{spread:.2g}")
    (peak, place), energy = found.peak, found.energy
    lines = [
        f"largest {peak.value:+.4g} N ± {peak.uncertainty:.2g}, {place * 1e3:.3g} mm from the seat",
        f"energy {energy.value:.3g} J ± {energy.uncertainty:.2g}: let go, "
        f"{found.mass * 1e3:.0f} g strike at {found.strike_speed:.2g} m/s",
    ]
    if found.holding is not None:
        passed = found.passed
        lines.append(
            f"{found.holding:.4g} N are passed "
            + ("nowhere" if passed is None else f"within {passed.value * 1e3:.3g} mm")
            + ("" if passed is None else f" ± {passed.uncertainty * 1e3:.2g}")
        )
    return [table, *lines, ""]


def centring_table(found: Centring) -> list[Table | str]:
    """Return what an offset does to each part that can slide."""
    title = f"{found.name}: {found.offset * 1e3:.3g} mm off centre"
    heads = [
        "off centre",
        "N/mm outwards",
        "±",
        "by hand",
        "pull N",
        "gap width",
        "gap flux density",
    ]
    table = _table(title, heads)
    for part in found.parts:
        stiffness = part.stiffness
        width = 100 * part.widths * found.offset / found.gap_width
        table.add_row(
            _words(part.moving),
            f"{stiffness.value / 1e3:.4g}",
            f"{stiffness.uncertainty / 1e3:.2g}",
            "" if part.by_hand is None else f"{part.by_hand / 1e3:.3g}",
            f"{found.pull(part):.3g}",
            f"± {width:.2g} %" if width else "as it was",
            f"± {100 * part.field_change * found.offset:.2g} %" if width else "",
        )
    fixed = [f"{_words(pair)} centre each other by a cylinder." for pair in found.fixed]
    return [table, *fixed, LIMITS, ""]


def endurance_table(found: Endurance) -> list[Table | str]:
    """Return what slams and road do to each joint."""
    line = found.line
    told = "stated" if line.given else "invented"
    title = (
        f"{found.loads.name}: {told} S-N line of {line.stress / 1e6:.3g} MPa for "
        f"{line.cycles:.0e} cycles, slope {line.slope:.3g}"
    )
    heads = ["joint", "slam MPa", "slams borne", "road MPa rms", "Miner's sum"]
    table = _table(title, heads)
    for pair, life in found.lives.items():
        cells = ["not known"] * 4
        if life is not None:
            slam, road = life.slam_stress, life.road_stress
            cells = [
                "" if slam is None else f"{slam / 1e6:.3g}",
                "" if life.slams is None else f"{life.slams:.2g}",
                "" if road is None else f"{road / 1e6:.3g}",
                f"{life.damage:.2g}",
            ]
        table.add_row(" / ".join(name.replace("_", " ") for name in pair), *cells)
    lines = []
    if found.slam is not None and found.slam_peak is not None:
        lines.append(
            f"{found.slam.count:.3g} slams of {found.slam.peak / GRAVITY:.3g} g, "
            f"{found.slam_peak / GRAVITY:.3g} g at the motor"
        )
    if found.road is not None:
        lines.append(f"road: {found.road.rms / GRAVITY:.3g} g rms at the motor")
    return [table, *lines, ""]


def magnetising_table(found: Magnetising) -> list[Table | str]:
    """Return how far each magnet is magnetised, and Bl with that."""
    title = f"{found.name}: a pulse of {found.fixture.ampere_turns / 1e3:.4g} kA"
    heads = ["magnet", "needs kA/m", "mean", "±", "least", "±", "too low %", "remanence left %"]
    table = _table(title, heads)
    for one in found.magnets:
        cells = [f"{one.needed / 1e3:.0f}"]
        for field in (one.mean, one.least):
            cells += [f"{field.value / 1e3:.4g}", f"{field.uncertainty / 1e3:.2g}"]
        cells += [f"{100 * one.short:.3g}", f"{100 * one.left:.4g}"]
        table.add_row(one.region.replace("_", " "), *cells)
    bl, full = found.bl, found.bl_full
    line = (
        f"Bl at rest {bl.value:.4g} T m ± {bl.uncertainty:.1g}; fully magnetised {full.value:.4g}"
    )
    return [table, line, ""]


def _words(names: Sequence[str]) -> str:
    return " and ".join(name.replace("_", " ") for name in names)


def _table(title: str, heads: list[str]) -> Table:
    table = Table(title=Text(title), box=SIMPLE_HEAD, title_justify="left")
    for k, head in enumerate(heads):
        table.add_column(Text(head), justify="right" if k else "left")
    return table


def _parts(loads: MotorLoads) -> Table:
    held = loads.forces.holder.replace("_", " ")
    title = f"{loads.name}: axial force on each part, positive outwards; held by the {held}"
    heads = ["part", "force N", "±", "mass g", "centre of gravity mm"]
    shaken = loads.acceleration is not None
    table = _table(title, [*heads, *(["inertia N"] if shaken else [])])
    for part in loads.forces.parts:
        body = loads.bodies[part.region]
        cells = [
            part.region.replace("_", " "),
            f"{part.force.value:+.1f}",
            f"{part.force.uncertainty:.2g}",
            f"{body.mass * 1e3:.1f}",
            f"{body.height * 1e3:+.2f}",
        ]
        if loads.acceleration is not None:
            cells.append(f"{body.mass * loads.acceleration:.1f}")
        table.add_row(*cells)
    whole = loads.whole
    last = ["together", f"{loads.forces.sum:+.1f}", "", f"{whole.mass * 1e3:.1f}"]
    table.add_row(*last, f"{whole.height * 1e3:+.2f}", style="bold")
    return table


def _joints(loads: MotorLoads) -> Table:
    heads = ["joint", "drawn together N", "±", "area mm²"]
    shaken = loads.acceleration is not None
    more = ["inertia N", "tension left N", "stress MPa", "strength / stress"]
    told = "stated" if loads.strength_given else "invented"
    title = "Joints" + (
        f" at {loads.acceleration / GRAVITY:.4g} g, {told} strength {loads.strength / 1e6:.3g} MPa"
        if loads.acceleration is not None
        else ""
    )
    table = _table(title, [*heads, *(more if shaken else [])])
    for joint in loads.forces.joints:
        pull, load = joint.pull, loads.joint_loads.get(joint.between)
        cells = [
            " / ".join(name.replace("_", " ") for name in joint.between),
            "not known" if pull is None else f"{pull.value:+.1f}",
            "" if pull is None else f"{pull.uncertainty:.2g}",
            f"{joint.area * 1e6:.0f}",
        ]
        if shaken:
            margin = loads.margin(joint)
            cells += (
                ["", "", "", ""]
                if load is None or margin is None
                else [
                    f"{load.inertial:.1f}",
                    f"{load.tension:.1f}",
                    f"{load.stress / 1e6:.3g}",
                    f"{margin:.3g}" if margin < 1e4 else "held by the magnets",
                ]
            )
        table.add_row(*cells)
    return table
