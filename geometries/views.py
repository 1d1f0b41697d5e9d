"""A half section to scale with dimensions around it, as SVG in units of the paper."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from geometries.dimensions import Span
from geometries.part_dimensions import number
from geometries.regions import Point, Region, Role
from geometries.words import markup_line

__all__ = ["COIL_COLOUR", "LOOKS", "Box", "Look", "View", "spread", "width_of"]

COIL_COLOUR = "#9c3d22"
ARROW = "M{:.2f},{:.2f} L{:.2f},{:.2f} M{:.2f},{:.2f} L{:.2f},{:.2f} L{:.2f},{:.2f}"
WIDE = 0.6
"""Width of a letter over its height, a little above that of common sans-serif faces."""


@dataclass(frozen=True)
class Look:
    """Fills of parts, and what defines them.

    Parameters
    ----------
    parts : mapping of Role to str
    coil : str
    arrow : str
        Colour of the arrows of magnetisation.
    definitions : str
        SVG that the fills refer to.
    """

    parts: Mapping[Role, str]
    coil: str
    arrow: str
    definitions: str = ""


def _hatch(name: str, lines: str) -> str:
    return (
        f'<pattern id="hatch-{name}" width="2" height="2" patternUnits="userSpaceOnUse" '
        f'patternTransform="scale(%s)"><rect width="2" height="2" fill="white"/>'
        f'<path d="{lines}" stroke="#222" stroke-width="0.14" fill="none"/></pattern>'
    )


LOOKS = {
    "light": Look(
        {Role.STEEL: "#c9d1d6", Role.MAGNET: "#7a8fb3", Role.CONDUCTOR: "#e0a458"},
        COIL_COLOUR,
        "white",
    ),
    "print": Look(
        {
            Role.STEEL: "url(#hatch-steel)",
            Role.MAGNET: "url(#hatch-magnet)",
            Role.CONDUCTOR: "url(#hatch-conductor)",
        },
        "#222",
        "black",
        _hatch("steel", "M-1,1 L1,-1 M0,2 L2,0 M1,3 L3,1")
        + _hatch("magnet", "M-1,1 L1,-1 M0,2 L2,0 M1,3 L3,1 M-1,1 L1,3 M0,0 L2,2 M1,-1 L3,1")
        + _hatch("conductor", "M-1,1 L1,3 M0,0 L2,2 M1,-1 L3,1 M0,1 L1,2 M1,0 L2,1"),
    ),
}
"""By name of a theme; neighbours differ in lightness or hatching."""


@dataclass
class Box:
    """Extent of a drawing in units of the paper; y points down."""

    left: float = math.inf
    top: float = math.inf
    right: float = -math.inf
    bottom: float = -math.inf

    def reach(self, x: float, y: float) -> None:
        """Grow so that a point is inside."""
        self.left, self.right = min(self.left, x), max(self.right, x)
        self.top, self.bottom = min(self.top, y), max(self.bottom, y)

    @property
    def width(self) -> float:
        """Extent along x."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Extent along y."""
        return self.bottom - self.top


def width_of(text: str, letter: float) -> float:
    """Return about how wide a text is, in units of the paper."""
    return WIDE * letter * len(text)


def spread(wanted: Sequence[float], apart: float) -> list[float]:
    """Return ascending places near the wanted ascending ones, at least ``apart``."""
    groups: list[list[float]] = []  # sum of wanted places less their steps, count
    for place in wanted:
        groups.append([place, 1.0])
        while len(groups) > 1:
            (s0, n0), (s1, n1) = groups[-2:]
            if s0 / n0 + n0 * apart <= s1 / n1:
                break
            groups[-2:] = [[s0 + s1 - n0 * n1 * apart, n0 + n1]]
    return [s / n + k * apart for s, n in groups for k in range(int(n))]


@dataclass
class View:
    """A right half section that grows dimension by dimension.

    The axis is at x = 0, z = 0 at y = 0; rows of diameters stand above and below the section,
    columns of heights on its right, names and notes left of the axis: no leader meets a number.

    Parameters
    ----------
    scale : float
        Units of the paper per metre.
    letter : float
        Height of letters, in units of the paper.
    look : Look
    """

    scale: float
    letter: float
    look: Look
    lines: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    box: Box = field(default_factory=Box)
    body: Box = field(default_factory=Box)
    _rows: dict[str, float] = field(default_factory=dict)

    def at(self, point: Point) -> Point:
        """Return a point's place on the paper."""
        return point[0] * self.scale, -point[1] * self.scale

    def part(self, region: Region) -> None:
        """Draw a part and the arrow of its magnetisation."""
        self._fill(region.outline, self.look.parts[region.role], region.name, self.letter / 14)
        if region.magnetisation is not None:
            self._magnetised(region)

    def coil(self, name: str, outline: Sequence[Point]) -> None:
        """Draw winding or former."""
        self._fill(outline, self.look.coil, name, self.letter / 40, "white")

    def _fill(
        self,
        outline: Sequence[Point],
        fill: str,
        name: str,
        width: float,
        stroke: str = "#333",
    ) -> None:
        places = [self.at(p) for p in outline]
        for x, y in places:
            self.body.reach(x, y)
            self.box.reach(x, y)
        points = " ".join(f"{x:.2f},{y:.2f}" for x, y in places)
        self.lines.append(
            f'<polygon points="{points}" fill="{fill}" stroke="{stroke}" '
            f'stroke-width="{width:.2f}"><title>{markup_line(name)}</title></polygon>'
        )

    def _magnetised(self, region: Region) -> None:
        assert region.magnetisation is not None
        (r0, z0), (r1, z1) = ([f(p[k] for p in region.outline) for k in (0, 1)] for f in (min, max))
        mr, mz = region.magnetisation
        half = 0.3 * min(r1 - r0, z1 - z0)
        r, z = (r0 + r1) / 2, (z0 + z1) / 2
        (x0, y0), (x1, y1) = (self.at((r + s * mr * half, z + s * mz * half)) for s in (-1, 1))
        dx, dy = (x1 - x0) * 0.3, (y1 - y0) * 0.3
        path = ARROW.format(
            *(x0, y0, x1, y1, x1 - dx - dy / 2, y1 - dy + dx / 2, x1, y1),
            *(x1 - dx + dy / 2, y1 - dy - dx / 2),
        )
        self.lines.append(
            f'<path d="{path}" stroke="{self.look.arrow}" stroke-width="{self.letter / 5:.2f}" '
            'fill="none"/>'
        )

    def axis(self) -> None:
        """Draw the centre line a little beyond the section."""
        over, dash = self.letter, self.letter / 12
        self.lines.append(
            f'<line x1="0" y1="{self.body.top - over:.2f}" '
            f'x2="0" y2="{self.body.bottom + over:.2f}" stroke="#333" '
            f'stroke-width="{self.letter / 14:.2f}" '
            f'stroke-dasharray="{12 * dash:.2f} {3 * dash:.2f} {3 * dash:.2f} {3 * dash:.2f}"/>'
        )

    # dimensions

    def diameters(self, spans: Sequence[Span], side: Literal["above", "below"]) -> None:
        """Draw diameters in rows, the least nearest: half the line, from the axis outwards."""
        for span in spans:
            y = self.row(side)
            x, foot = self.at(span.end)
            text = f"\u2300 {number(2 * span.radial)}"
            room = width_of(text, self.letter)
            inside = room + self.letter < x
            start = 0.0 if inside else -room - self.letter
            self._extension(f"M{x:.2f},{foot:.2f} V{y:.2f}")
            self._measure((start, y), (x, y), span.what, first=False)
            middle = x / 2 if inside else (start - self.letter / 2) / 2
            self.words(middle, y + 0.35 * self.letter, text)

    def row(self, side: Literal["above", "below"]) -> float:
        """Return the height of the next row of dimensions on the paper."""
        down = side == "below"
        edge = self.body.bottom if down else self.body.top
        step = 1.75 * self.letter * (1 if down else -1)
        self._rows[side] = self._rows.get(side, edge) + step
        return self._rows[side]

    def width(self, span: Span) -> None:
        """Draw a short radial length above the section, its number on the right."""
        y = self.row("above")
        (x0, foot), (x1, _) = self.at(span.start), self.at(span.end)
        self._extension(f"M{x0:.2f},{foot:.2f} V{y:.2f} M{x1:.2f},{foot:.2f} V{y:.2f}")
        self._measure((x0, y), (x1 + self.letter, y), span.what, last=False)
        self._tick((x1, y))
        place = x1 + 1.3 * self.letter, y + 0.35 * self.letter
        self.words(*place, number(span.radial), anchor="start")

    def chain(self, spans: Sequence[Span]) -> None:
        """Draw axial lengths in one column on the right, each number beside its line."""
        x = self.column()
        edge = self.body.right + self.letter / 4
        texts = [(self.at(s.start)[1] + self.at(s.end)[1]) / 2 for s in spans]
        order = sorted(range(len(spans)), key=lambda k: texts[k])
        places = spread([texts[k] for k in order], 1.2 * self.letter)
        for k, y in zip(order, places, strict=True):
            (_, y0), (_, y1) = self.at(spans[k].start), self.at(spans[k].end)
            self._extension(f"M{edge:.2f},{y0:.2f} H{x:.2f} M{edge:.2f},{y1:.2f} H{x:.2f}")
            self._measure((x, y0), (x, y1), spans[k].what)
            text = number(abs(spans[k].axial))
            self.words(x + 0.6 * self.letter, y + 0.35 * self.letter, text, anchor="start")

    def column(self) -> float:
        """Return the place of the next column of heights on the paper."""
        return max(self.body.right, self.box.right) + 1.3 * self.letter

    def running(self, points: Sequence[Point], what: str = "height") -> None:
        """Draw heights above the lowest of some points, in one column on the right."""
        low = min(z for _, z in points)
        marked = sorted((self.at(p)[1], self.at(p)[0], p[1] - low) for p in points)
        x = self.column()
        knee, column = x + 0.7 * self.letter, x + 1.6 * self.letter
        self._measure((x, marked[-1][0]), (x, marked[0][0]), what, first=False, last=False)
        places = spread([y for y, _, _ in marked], 1.2 * self.letter)
        for (y, foot, height), place in zip(marked, places, strict=True):
            self._extension(f"M{foot:.2f},{y:.2f} H{knee:.2f} L{column:.2f},{place:.2f}")
            if height > 0:
                self._tick((x, y))
            else:
                self._line(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{self.letter / 5:.2f}"', "none")
            beside = column + 0.3 * self.letter, place + 0.35 * self.letter
            self.words(*beside, number(height), anchor="start")

    def marked(self, span: Span) -> None:
        """Draw a dimension in its place, with its name; a diameter where it starts on the axis."""
        (x0, y0), (x1, y1) = self.at(span.start), self.at(span.end)
        across = span.start[0] == 0 and span.axial == 0
        size = (
            f"\u2300 {number(2 * span.radial)}"
            if across
            else number(math.hypot(span.radial, span.axial))
        )
        self._measure((x0, y0), (x1, y1), span.what)
        place = (x0 + x1) / 2, (y0 + y1) / 2 + 0.35 * self.letter
        self.words(*place, f"{span.what} {size}")

    def notes(self, notes: Sequence[tuple[str, Point]]) -> None:
        """Write names and notes left of the axis, each with a leader to its point."""
        placed = sorted((self.at(p)[1], self.at(p)[0], text) for text, p in notes)
        places = spread([y for y, _, _ in placed], 1.35 * self.letter)
        for (y, x, text), place in zip(placed, places, strict=True):
            self._extension(
                f"M{x:.2f},{y:.2f} L{-self.letter:.2f},{place:.2f} H{-1.6 * self.letter:.2f}"
            )
            dot = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{self.letter / 6:.2f}"'
            self.lines.append(f'{dot} fill="#333"/>')
            where = -1.9 * self.letter, place + 0.35 * self.letter
            self.words(*where, text, anchor="end")

    # pieces

    @property
    def drawing(self) -> list[str]:
        """All elements, texts over lines."""
        return [*self.lines, *self.texts]

    def words(self, x: float, y: float, text: str, *, anchor: str = "middle") -> None:
        """Write text on a white ground, at which lines end."""
        room = width_of(text, self.letter)
        left = {"middle": x - room / 2, "start": x, "end": x - room}[anchor]
        self.box.reach(left, y - self.letter)
        self.box.reach(left + room, y + 0.3 * self.letter)
        self.texts += [
            f'<rect x="{left - 0.2 * self.letter:.2f}" y="{y - 0.9 * self.letter:.2f}" '
            f'width="{room + 0.4 * self.letter:.2f}" height="{1.1 * self.letter:.2f}" '
            'fill="white"/>',
            f'<text x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}" '
            f'font-size="{self.letter:g}">{markup_line(text)}</text>',
        ]

    def _line(self, shape: str, fill: str, *, thin: bool = False) -> None:
        colour, width = ("#888", self.letter / 24) if thin else ("#333", self.letter / 15)
        self.lines.append(f'{shape} stroke="{colour}" stroke-width="{width:.2f}" fill="{fill}"/>')

    def _extension(self, path: str) -> None:
        self._line(f'<path d="{path}"', "none", thin=True)

    def _tick(self, place: Point) -> None:
        x, y, size = *place, self.letter / 3
        path = f"M{x - size:.2f},{y + size:.2f} L{x + size:.2f},{y - size:.2f}"
        self._line(f'<path d="{path}"', "none")

    def _measure(
        self, start: Point, end: Point, what: str, *, first: bool = True, last: bool = True
    ) -> None:
        """Draw a dimension line with ticks at its ends."""
        for place, ticked in ((start, first), (end, last)):
            self.box.reach(*place)
            if ticked:
                self._tick(place)
        (x0, y0), (x1, y1) = start, end
        self.lines.append(
            f'<path d="M{x0:.2f},{y0:.2f} L{x1:.2f},{y1:.2f}" stroke="#333" '
            f'stroke-width="{self.letter / 15:.2f}" fill="none">'
            f"<title>{markup_line(what)}</title></path>"
        )

    def define(self) -> str:
        """Return what the fills refer to."""
        found = self.look.definitions.replace("%s", f"{self.letter / 3:g}")
        return f"<defs>{found}</defs>" if found else ""

    def fan(self, labels: Sequence[tuple[float, str]], side: Literal["above", "below"]) -> None:
        """Write upright labels of close radii in metres, each led to its own place."""
        up = side == "above"
        edge, step = (self.body.top, -self.letter) if up else (self.body.bottom, self.letter)
        ordered = sorted((r * self.scale, text) for r, text in labels)
        for (x, text), place in zip(
            ordered, spread([x for x, _ in ordered], 1.3 * self.letter), strict=True
        ):
            self._extension(
                f"M{x:.2f},{edge:.2f} v{step / 2:.2f} L{place:.2f},{edge + 2 * step:.2f} "
                f"v{step / 2:.2f}"
            )
            foot = edge + 2.8 * step
            self.box.reach(place - self.letter, foot)
            self.box.reach(place + self.letter, foot + step * WIDE * len(text))
            turned = place + 0.35 * self.letter
            self.lines.append(
                f'<text transform="translate({turned:.2f} {foot:.2f}) rotate(-90)" '
                f'text-anchor="{"start" if up else "end"}" font-size="{self.letter:g}">'
                f"{markup_line(text)}</text>"
            )

    def window(self, low: Point, high: Point, name: str, draw: Callable[[], None]) -> None:
        """Draw what ``draw`` draws inside a window between two points in metres alone."""
        (x0, y1), (x1, y0) = self.at(low), self.at(high)
        shape = f'x="{x0:.2f}" y="{y0:.2f}" width="{x1 - x0:.2f}" height="{y1 - y0:.2f}"'
        self.lines += [f'<clipPath id="{name}"><rect {shape}/></clipPath>']
        self.lines += [f'<g clip-path="url(#{name})">']
        draw()
        self.lines += ["</g>"]
        self._line(f"<rect {shape}", "none", thin=True)
        self.body, self.box = Box(x0, y0, x1, y1), Box(x0, y0, x1, y1)
