"""From a page's parts to one HTML text that needs nothing else."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bokeh.embed import components
from bokeh.resources import Resources
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from motor.base.program import stamp
from motor.report.style import style

if TYPE_CHECKING:
    from motor.report.page.theme import Plot

__all__ = ["CAUTIONS", "Grid", "Page", "json_for_script", "today"]

HERE = Path(__file__).parent
CAUTIONS = (
    "Magnets attract suddenly, pinch fingers, shatter, and disturb pacemakers, cards and "
    "instruments.",
    "Voice coils and amplifiers get hot and burn; loud sound damages hearing.",
    "Follow local rules and qualified practice when magnetising, handling and testing; this "
    "page is no substitute for either.",
    "Figures are computed for an ideal part: magnet grades, steel and assembly spread, and "
    "prices are not quotations.",
)


@dataclass(frozen=True)
class Grid:
    """A table for the page.

    Parameters
    ----------
    heads : tuple of str
    rows : sequence of tuples of str
        The first cell names the row.
    numbers : tuple of str
        Heads whose cells stand to the right.
    caption : str
    """

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    numbers: tuple[str, ...] = ()
    caption: str = ""


@dataclass(frozen=True)
class Page:
    """A page before it is text.

    Parameters
    ----------
    template : str
        File in ``templates`` that extends ``base.html``.
    title : str
    title_block : sequence of (term, text)
        Beside the title.
    sections : sequence of (anchor, heading)
        For the links below the head.
    plots : mapping of name to Plot
        Place and key of each reach the template as ``plots.name``.
    scripts : sequence of str
        Files in ``static``, run in that order after the figures' script.
    styles : sequence of str
        Files in ``static``.
    data : mapping of element id to anything JSON can hold
        For the scripts.
    context : mapping
        Everything else that the template shows.
    """

    template: str
    title: str
    title_block: tuple[tuple[str, str], ...]
    sections: tuple[tuple[str, str], ...]
    plots: Mapping[str, Plot]
    scripts: tuple[str, ...] = ()
    styles: tuple[str, ...] = ("page.css",)
    data: Mapping[str, Any] = field(default_factory=dict)
    context: Mapping[str, Any] = field(default_factory=dict)

    def text(self) -> str:
        """Return the page as HTML."""
        drawn = {name: plot.figure for name, plot in self.plots.items()}
        script, places = components(drawn) if drawn else ("", {})
        library = Resources(mode="inline", components=["bokeh"], log_level="warn").render_js()
        environment = Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        held = [
            f'<script type="application/json" id="{name}">{json_for_script(value)}</script>'
            for name, value in self.data.items()
        ]
        static, look = HERE / "static", style()
        colours = f":root {{ --ink: {look.ink}; --accent: {look.second}; }}\n"
        return environment.get_template(self.template).render(
            title=self.title,
            title_block=self.title_block,
            sections=self.sections,
            styles=Markup(
                colours + "\n".join((static / s).read_text(encoding="utf-8") for s in self.styles)
            ),
            library=Markup(library),
            plots={
                name: {"place": Markup(places[name]), "key": plot.key}
                for name, plot in self.plots.items()
            },
            plot_script=Markup("\n".join([*held, script])),
            scripts=[Markup((static / s).read_text(encoding="utf-8")) for s in self.scripts],
            cautions=CAUTIONS,
            program=stamp(),
            date=today(),
            **self.context,
        )


def json_for_script(value: Any) -> str:
    """Return JSON that cannot end the script element it stands in."""
    text = json.dumps(value, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def today() -> str:
    """Return the date of the page."""
    return datetime.date.today().isoformat()
