"""A chart as an SVG picture with a name and a description, drawn without a browser or a network."""

from __future__ import annotations

import html
import re
import urllib.parse
from dataclasses import dataclass
from typing import Any

import vl_convert

from fallow.records.inert import seen, seen_within

VEGA_LITE = "6.4"
_OPENING = re.compile(r"<svg\b[^>]*>")


@dataclass(frozen=True, kw_only=True)
class Picture:
    """An SVG a notebook shows as it stands; ``description`` says in words what it shows."""

    svg: str
    description: str

    @property
    def img(self) -> str:
        """The picture as an HTML image that carries its own drawing.

        A notebook somebody merely opened is not trusted, and JupyterLab shows an SVG of such a one as text; an image
        it shows. Percent signs, not base64, so that an address inside the drawing would still be seen by a reader.
        """
        drawing = urllib.parse.quote(self.svg, safe=" :/=;,()")
        return f'<img src="data:image/svg+xml,{drawing}" alt="{html.escape(self.description)}">'

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return {"text/html": self.img, "text/plain": self.description}


def picture(chart: Any, *, title: str, description: str) -> Picture:
    """Return a chart as SVG that screen readers announce by its title and description.

    Our choice. Both texts are escaped; the drawing comes from vl-convert, whose bytes are the same on every run.

    >>> import altair as alt
    >>> dot = alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q")
    >>> shown = picture(dot, title="Rye & rise", description="one dot")
    >>> 'role="img"' in shown.svg, "<title>Rye &amp; rise</title>" in shown.svg
    (True, True)
    """
    return Picture(
        svg=named(drawn(chart), title=title, description=description), description=seen(f"{title}: {description}")
    )


def drawn(chart: Any) -> str:
    """Return the bare SVG of an Altair chart or of a Vega-Lite specification."""
    spec = chart if isinstance(chart, dict) else chart.to_dict()
    return str(vl_convert.vegalite_to_svg(seen_within(spec), vl_version=VEGA_LITE))


def named(svg: str, *, title: str, description: str) -> str:
    """Return an SVG whose outermost element is an image with a title and a description."""
    words = f"<title>{html.escape(seen(title))}</title><desc>{html.escape(seen(description))}</desc>"

    def opening(found: re.Match[str]) -> str:
        return found.group(0)[:-1] + ' role="img">' + words

    return _OPENING.sub(opening, svg, count=1)
