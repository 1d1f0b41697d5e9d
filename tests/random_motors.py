"""Random valid motors of both geometries, for statistics over many designs."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np

from geometries import Geometry, InvalidInput, Ring
from geometries.inside_magnet import InsideMagnet
from geometries.outside_magnet import OutsideMagnet
from motor.design.coil import Coil
from motor.design.design import Design, Materials
from motor.design.wire import Wire

__all__ = ["hard_designs", "random_designs"]

FERRITES = ("Y25", "Y30", "Y33")
NEODYMIUM = ("N35", "N42", "N52")
STEELS = ("low-carbon-a", "low-carbon-b")


def random_designs(seed: int, count: int) -> Iterator[Design]:
    """Yield valid designs, the two geometries in turn; the same seed gives the same designs."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        try:
            yield _outside(rng) if made % 2 == 0 else _inside(rng)
        except InvalidInput:
            continue
        made += 1


def hard_designs(seed: int, count: int) -> Iterator[Design]:
    """Yield valid designs at the edges: 10 mm wide, 500 mm wide, a gap of 0.2 mm, thin steel.

    The two geometries in turn; magnets inside are a pair that opposes.
    """
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        try:
            plain = _outside(rng) if made % 2 == 0 else _inside(rng)
            geometry = dataclasses.replace(plain.geometry, rings=())
            if isinstance(geometry, InsideMagnet):
                second = 0.8 * geometry.magnet_thickness
                geometry = dataclasses.replace(geometry, second_magnet_thickness=second)
            edge = made // 2 % 4
            if edge < 2:
                wide = 2 * max(r for region in geometry.regions() for r, _ in region.outline)
                geometry = _scaled(geometry, (10e-3, 500e-3)[edge] / wide)
            else:
                geometry = _narrow(geometry) if edge == 2 else _thin(geometry)
            design = _with_coil(rng, geometry, (plain.materials.magnet,))
        except InvalidInput:
            continue
        yield design
        made += 1


def _scaled(geometry: Geometry, factor: float) -> Geometry:
    """Return a geometry with all its lengths multiplied."""
    values = {f.name: getattr(geometry, f.name) for f in dataclasses.fields(geometry)}
    lengths = {name: factor * v for name, v in values.items() if isinstance(v, float)}
    return dataclasses.replace(geometry, **lengths)


def _narrow(geometry: Geometry) -> Geometry:
    """Return a geometry with a gap of 0.2 mm."""
    if isinstance(geometry, OutsideMagnet):
        return dataclasses.replace(geometry, gap_width=0.2e-3)
    assert isinstance(geometry, InsideMagnet)
    inner = geometry.pole_plate_diameter + 0.4e-3 + 2 * geometry.lip_step
    outer = inner + geometry.cup_outer_diameter - geometry.cup_inner_diameter
    return dataclasses.replace(geometry, cup_inner_diameter=inner, cup_outer_diameter=outer)


def _thin(geometry: Geometry) -> Geometry:
    """Return a geometry whose steel saturates."""
    if isinstance(geometry, OutsideMagnet):
        return dataclasses.replace(
            geometry,
            back_plate_thickness=0.5 * geometry.back_plate_thickness,
            vent_diameter=0.7 * geometry.pole_diameter,
        )
    assert isinstance(geometry, InsideMagnet)
    wall = geometry.cup_outer_diameter - geometry.cup_inner_diameter
    return dataclasses.replace(
        geometry,
        cup_outer_diameter=geometry.cup_inner_diameter + 0.5 * wall,
        floor_thickness=0.5 * geometry.floor_thickness,
    )


def _maybe(rng: np.random.Generator, share: float, low: float, high: float) -> float:
    """Return 0 or, with probability ``share``, a value between low and high."""
    value = float(rng.uniform(low, high))
    return value if rng.random() < share else 0.0


def _sleeve(rng: np.random.Generator, bore: float, gap: float, depth: float) -> tuple[Ring, ...]:
    if rng.random() > 0.25:
        return ()
    thickness = float(rng.uniform(0.1, 0.25)) * gap
    height = float(rng.uniform(1.0, 2.5)) * depth
    return (
        Ring(
            name="sleeve",
            inner_diameter=bore,
            outer_diameter=bore + 2 * thickness,
            bottom=-depth / 2,
            height=height,
        ),
    )


def _outside(rng: np.random.Generator) -> Design:
    pole = float(rng.uniform(18e-3, 75e-3))
    gap = float(rng.uniform(0.9e-3, 2.5e-3))
    plate = float(rng.uniform(3e-3, 12e-3))
    stepped = rng.random() < 0.3
    depth = float(rng.uniform(0.5, 0.9)) * plate if stepped else plate
    hole = pole + 2 * gap + float(rng.uniform(4e-3, 20e-3))
    magnet = hole + float(rng.uniform(15e-3, 70e-3))
    geometry = OutsideMagnet(
        pole_diameter=pole,
        gap_width=gap,
        gap_depth=depth,
        top_plate_outer_diameter=magnet - float(rng.uniform(0.0, 10e-3)),
        top_plate_thickness=plate,
        magnet_inner_diameter=hole,
        magnet_outer_diameter=magnet,
        magnet_thickness=float(rng.uniform(6e-3, 30e-3)),
        back_plate_diameter=magnet - float(rng.uniform(0.0, 10e-3)),
        back_plate_thickness=float(rng.uniform(0.7, 1.6)) * plate,
        vent_diameter=_maybe(rng, 0.4, 0.1 * pole, 0.45 * pole),
        pole_extension=_maybe(rng, 0.5, 0.5e-3, 8e-3),
        pole_undercut=0.0,
        lip_step=float(rng.uniform(0.5e-3, 3e-3)) if stepped else 0.0,
        lip_style=str(rng.choice(["step", "chamfer"])),
        lip_position=str(rng.choice(["middle", "top", "bottom"])),
        pole_chamfer=_maybe(rng, 0.3, 0.3e-3, 1e-3),
        back_plate_chamfer=_maybe(rng, 0.3, 0.5e-3, 2e-3),
        rings=_sleeve(rng, pole, gap, depth),
    )
    return _with_coil(rng, geometry, FERRITES)


def _inside(rng: np.random.Generator) -> Design:
    plate = float(rng.uniform(18e-3, 75e-3))
    gap = float(rng.uniform(0.8e-3, 2e-3))
    thickness = float(rng.uniform(2.5e-3, 9e-3))
    step = _maybe(rng, 0.7, 0.5e-3, 3e-3)
    inner = plate + 2 * gap + 2 * step
    second = _maybe(rng, 0.25, 2e-3, 6e-3)
    geometry = InsideMagnet(
        magnet_outer_diameter=plate - float(rng.uniform(0.5e-3, 4e-3)),
        magnet_thickness=float(rng.uniform(3e-3, 12e-3)),
        pole_plate_diameter=plate,
        pole_plate_thickness=thickness,
        cup_inner_diameter=inner,
        cup_outer_diameter=inner + float(rng.uniform(4e-3, 16e-3)),
        floor_thickness=float(rng.uniform(0.7, 1.6)) * thickness,
        lip_step=step,
        cup_rise=_maybe(rng, 0.3, 0.2e-3, 1.5e-3),
        second_magnet_thickness=second,
        pole_plate_chamfer=_maybe(rng, 0.3, 0.2e-3, 0.6e-3),
        cup_chamfer=_maybe(rng, 0.3, 0.5e-3, 2e-3),
        rings=_sleeve(rng, plate, gap, thickness),
    )
    return _with_coil(rng, geometry, NEODYMIUM)


def _with_coil(rng: np.random.Generator, geometry: Geometry, grades: tuple[str, ...]) -> Design:
    gap = geometry.gap
    sleeve = max([gap.inner_radius, *(r.outer_diameter / 2 for r in geometry.rings)])
    room = gap.outer_radius - sleeve
    overall = 0.25 * room
    height = float(rng.uniform(0.6, 2.8)) * gap.depth
    coil = Coil(
        inner_diameter=2 * (sleeve + float(rng.uniform(0.15, 0.35)) * room),
        winding_height=max(height, 2 * overall),
        layers=2,
        wire=Wire(bare_diameter=0.88 * overall, overall_diameter=overall),
        rest_position=float(rng.uniform(-0.1, 0.1)) * gap.depth,
    )
    return Design(
        geometry=geometry,
        materials=Materials(magnet=str(rng.choice(grades)), steel=str(rng.choice(STEELS))),
        coil=coil,
    )
