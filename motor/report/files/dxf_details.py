"""Each part of a motor and its coil on their own, every dimension shown, in a DXF drawing; mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from geometries.part_dimensions import PartDimensions, combined, part_dimensions
from geometries.views import spread
from motor.report.files.bodies import Body

__all__ = ["Frame", "add_details"]

MM = 1e3
Frame = tuple[float, float, float]
"""Half width, lowest and highest point, mm."""
Draw = Callable[[Body, tuple[float, float]], None]
"""Draws a body shifted by (x, y) mm."""


def add_details(
    space: Any,
    bodies: Sequence[Body],
    corner: tuple[float, float],
    letter: float,
    layers: tuple[str, str],
    draw: Draw,
) -> None:
    """Draw the parts in a row to the right of a place, the coil last.

    Parameters
    ----------
    space : ezdxf layout
    bodies : sequence of Body
    corner : (x, y)
        Where the row begins, and its lower edge, mm.
    letter : float
        Height of letters, mm.
    layers : (details, dimensions)
    draw : callable
    """
    x, floor = corner
    coil = [body for body in bodies if body.role is None]
    for group in (*([body] for body in bodies if body.role is not None), coil):
        if not group:
            continue
        found = combined([part_dimensions(body.outline, body.name) for body in group])
        points = [p for body in group for p in body.outline]
        width = max(r for r, _ in points) * MM
        low, high = (f(z for _, z in points) * MM for f in (min, max))
        x += width + 8 * letter
        shift = (x, floor - low)
        for body in group:
            draw(body, shift)
        frame = (width, low + shift[1], high + shift[1])
        x += width + _dimension(space, found, shift, frame, letter, layers) + 6 * letter
        name = group[0].name if group[0].role is not None else "coil"
        caption = space.add_text(
            name.replace("_", " "), height=1.2 * letter, dxfattribs={"layer": layers[0], "color": 7}
        )
        caption.set_placement((shift[0] - width, frame[2] + 2.4 * letter))


def _dimension(
    space: Any,
    found: PartDimensions,
    shift: tuple[float, float],
    frame: Frame,
    letter: float,
    layers: tuple[str, str],
) -> float:
    """Draw axis and dimensions of one detail; return the room in mm that heights take."""
    (dx, dy), (width, low, high) = shift, frame
    from ezdxf.enums import TextEntityAlignment

    details, lines = layers
    step = 2.4 * letter
    space.add_line(
        (dx, low - letter), (dx, high + letter), {"layer": details, "linetype": "CENTER"}
    )

    def measure(
        base: tuple[float, float], ends: tuple[Any, Any], angle: float, text: str = "<>"
    ) -> None:
        attributes = {"layer": lines}
        space.add_linear_dim(
            base=base, p1=ends[0], p2=ends[1], angle=angle, dimstyle="section", text=text,
            dxfattribs=attributes,
        ).render()  # fmt: skip

    for k, span in enumerate(found.diameters):
        r, z = span.end[0] * MM, span.end[1] * MM + dy
        row = (dx, low - letter - (k + 1) * step)
        measure(row, ((dx - r, z), (dx + r, z)), 0, "%%c<>")
    base = found.heights[0]
    for k, (r, z) in enumerate(found.heights[1:]):
        column = (dx + width + letter + (k + 1) * step, low)
        ends = (dx + base[0] * MM, base[1] * MM + dy), (dx + r * MM, z * MM + dy)
        measure(column, ends, 90)
    room = letter + len(found.heights) * step
    cuts = sorted(found.cuts, key=lambda cut: cut.at[1])
    heights = spread([cut.at[1] * MM + dy for cut in cuts], 1.5 * letter)
    for cut, height in zip(cuts, heights, strict=True):
        foot = (dx - width - 2 * letter, height)
        space.add_line((dx - cut.at[0] * MM, cut.at[1] * MM + dy), foot, {"layer": lines})
        text = cut.text.replace("\u00d7", "x").replace("\u00b0", "%%d")
        note = space.add_text(text, height=letter, dxfattribs={"layer": lines})
        note.set_placement((foot[0] - 0.4 * letter, height), align=TextEntityAlignment.MIDDLE_RIGHT)
    return room
