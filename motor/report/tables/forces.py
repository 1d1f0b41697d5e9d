"""Forces on parts and joints as tables for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.table import Table

    from motor.results.loads import MotorLoads

__all__ = ["CAUTION", "forces_tables"]

CAUTION = (
    "Caution: parts that attract each other close suddenly, pinch and shatter; assemble them in a "
    "fixture that holds more than the force shown. Strength of joints is to be tested, at the "
    "temperatures and after the ageing that local rules and the car maker ask for; this is no "
    "substitute."
)


def forces_tables(loads: MotorLoads) -> list[Table]:
    """Return a table of parts and one of joints."""
    return [_parts(loads), _joints(loads)]


def _table(title: str, heads: list[str]) -> Table:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

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
        f" at {loads.acceleration / 9.80665:.4g} g, {told} strength {loads.strength / 1e6:.3g} MPa"
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
