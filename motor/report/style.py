"""The look of all figures: one place for colours, dashes, markers and hatches, in two themes.

``light`` is for screens: hues that stay apart for readers with a red-green deficiency and differ
in lightness.  ``print`` survives a black-and-white printer: greys that differ in lightness, and
lines that differ in dashes, markers and hatches too::

    with motor.report.style.theme("print"):
        result.bl_curve.plot()
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geometries import Role
from geometries.views import COIL_COLOUR, LOOKS
from motor.report.themes import THEMES, current, theme, use

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

__all__ = ["THEMES", "Style", "axes_of", "blank", "sheet", "style", "theme", "use"]

MARKERS = ("o", "s", "D", "^", "v", "P")
HATCHES = ("", "//", "..", "xx", "\\\\", "++")


@dataclass(frozen=True)
class Style:
    """Colours as #rrggbb and the names of matplotlib's colour maps.

    Parameters
    ----------
    series : tuple of str
        For things side by side; the first is also that of a figure's main curve.
    dashes : tuple of str
        Of the same things.
    quiet : str
        For what is shown beside the point.
    gap, safe : str
        Fills behind curves: the gap's depth, the safe temperatures.
    magnet, steel, conductor, ring : str
        Fills of parts.
    flux, halo : str
        Flux lines, and what sets them off from dark parts.
    field_map, value_map, order_map : (name, from, to)
        Colour maps for flux density, for results over two parameters, and for lines in order;
        the part of each that is used, shares of its length.
    """

    series: tuple[str, ...]
    dashes: tuple[Any, ...]
    quiet: str
    gap: str
    safe: str
    magnet: str
    steel: str
    conductor: str
    ring: str
    flux: str
    halo: str
    field_map: tuple[str, float, float]
    value_map: tuple[str, float, float]
    order_map: tuple[str, float, float]

    @property
    def ink(self) -> str:
        """Colour of the main curve."""
        return self.series[0]

    @property
    def second(self) -> str:
        """Colour of what is marked on it."""
        return self.series[1]

    @property
    def fills(self) -> dict[str, str]:
        """Fill of each role of a part, and of the coil."""
        of_parts = {"magnet": self.magnet, "steel": self.steel, "conductor": self.ring}
        return of_parts | {"coil": self.conductor}

    def line(self, k: int) -> dict[str, Any]:
        """Return colour and dashes of the k-th of several things."""
        return {
            "color": self.series[k % len(self.series)],
            "ls": self.dashes[k % len(self.dashes)],
        }

    def marker(self, k: int) -> str:
        """Return the marker of the k-th of several things."""
        return MARKERS[k % len(MARKERS)]

    def bar(self, k: int) -> dict[str, Any]:
        """Return colour and hatch of the k-th of several bars."""
        return {
            "color": self.series[k % len(self.series)],
            "hatch": HATCHES[k % len(HATCHES)],
            "edgecolor": "white",
        }

    def map(self, part: tuple[str, float, float]) -> Colormap:
        """Return the used part of a colour map."""
        import numpy as np
        from matplotlib import colormaps
        from matplotlib.colors import ListedColormap

        name, low, high = part
        return ListedColormap(colormaps[name](np.linspace(low, high, 256)))

    def shades(self, count: int) -> list[Any]:
        """Return colours for lines in an order, dark to light."""
        whole = self.map(self.order_map)
        return [whole(k / max(count - 1, 1)) for k in range(count)]


PARTS = LOOKS["light"].parts
"""Fills of parts on screens: the same in drawings and figures."""
STYLES = {
    "light": Style(
        series=("#0f2a45", "#bd5416", "#2f9e93", "#6a3a80", "#e6b838", "#8ea3dc"),
        dashes=("-", "--", "-.", ":"),
        quiet="#8a8a8a",
        gap="#d9d2bd",
        safe="#cfe3d4",
        magnet=PARTS[Role.MAGNET],
        steel=PARTS[Role.STEEL],
        conductor=COIL_COLOUR,
        ring=PARTS[Role.CONDUCTOR],
        flux="#7a2d12",
        halo="#ffffff",
        field_map=("YlGnBu", 0.0, 1.0),
        value_map=("cividis", 0.3, 1.0),
        order_map=("viridis", 0.0, 0.85),
    ),
    "print": Style(
        series=("#000000", "#6a6a6a", "#9c9c9c", "#2e2e2e", "#c0c0c0", "#4c4c4c"),
        dashes=("-", "--", "-.", ":", (0, (6, 1, 1, 1, 1, 1)), (0, (8, 3))),
        quiet="#8a8a8a",
        gap="#e2e2e2",
        safe="#e8e8e8",
        magnet="#dcdcdc",
        steel="#a8a8a8",
        conductor="#303030",
        ring="#8c8c8c",
        flux="#000000",
        halo="#ffffff",
        field_map=("Greys", 0.0, 0.75),
        value_map=("Greys", 0.02, 0.6),
        order_map=("gray", 0.0, 0.64),
    ),
}


def style() -> Style:
    """Return the style in force."""
    return STYLES[current()]


def axes_of(ax: Axes | None, size: tuple[float, float] = (7.5, 4.4)) -> Axes:
    """Return the axes to draw into: the given ones, or those of a new figure (inches).

    The new figure is one of pyplot's, which a script shows and a notebook displays.
    """
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=size, layout="constrained")[1]


def blank(size: tuple[float, float] = (7.5, 4.4)) -> Axes:
    """Return the axes of a figure (inches) that pyplot does not know, to be written to a file."""
    from matplotlib.figure import Figure

    return Figure(figsize=size, layout="constrained").subplots()


def sheet(
    rows: int, columns: int, *, width: float = 4.6, height: float = 3.8, sharex: bool = False
) -> tuple[Figure, Any]:
    """Return a figure and its (rows, columns) array of axes; inches for each."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width * columns, height * rows), layout="constrained")
    return figure, figure.subplots(rows, columns, squeeze=False, sharex=sharex)
