"""The signature picture on a kitchen sheet: below its table, as wide as leaves all of it on one page."""

from __future__ import annotations

from typing import Any

from fallow.charts.picture import picture

_STYLE = "<style>.picture {{ margin: 0 }} .picture svg {{ width: {}mm; height: auto; display: block }}</style>\n"


def with_picture(sheet: str, *, chart: Any, title: str, description: str, wide_mm: float = 132) -> str:
    r"""Return a kitchen sheet (``fallow.plans.sheet``) with a chart below its table.

    >>> import altair as alt
    >>> dot = alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q")
    >>> made = with_picture("<table></table>\n<ul></ul>", chart=dot, title="Doublings", description="one dot")
    >>> made.index("</table>") < made.index("<svg") < made.index("<ul>")
    True
    """
    drawn = picture(chart, title=title, description=description)
    above, end, below = sheet.partition("</table>\n")
    return f'{above}{end}<figure class="picture">{drawn.svg}</figure>\n{_STYLE.format(wide_mm)}{below}'
