"""The one door from records to their views.

A record says only that it can be drawn; which function draws it stands in
:mod:`motor.report.views`, the single module above that anything below imports, when it is asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Drawable", "DrawablePage", "Printable"]


class Drawable:
    """A record with a figure of its own."""

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw into ``ax``, or into a new figure, and return the axes.

        The options are those of the function that :mod:`motor.report.views` names for the record.
        """
        from motor.report.views import drawing_of  # upward: the one door

        axes: Axes = drawing_of(self)(ax=ax, **options)
        return axes


class DrawablePage:
    """A record whose picture has several panels."""

    def plot(self) -> Figure:
        """Draw all panels and return the figure."""
        from motor.report.views import drawing_of  # upward: the one door

        figure: Figure = drawing_of(self)()
        return figure


class Printable:
    """A record that tells itself as text, as a page, and in a notebook."""

    def report(self) -> str:
        """Return the results as a text table."""
        from motor.report.views import text_of  # upward: the one door

        return text_of(self)

    def page(self) -> str:
        """Return the result as a page of HTML that needs nothing else."""
        from motor.report.views import page_of  # upward: the one door

        return page_of(self)

    def _repr_html_(self) -> str:
        from motor.report.views import table_of  # upward: the one door

        return table_of(self)
