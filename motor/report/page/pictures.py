"""Figures that stand in a page as they are drawn, without a script."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from markupsafe import Markup

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["picture"]


def picture(figure: Figure) -> Markup:
    """Return a figure as SVG for the middle of a page."""
    stream = io.StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None})
    text = stream.getvalue()
    return Markup(text[text.index("<svg") :])
