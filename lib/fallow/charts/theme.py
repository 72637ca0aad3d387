"""Colours, letters and paper of every chart, so that a baker who has read one page reads every page.

Our choice. The paper is painted white, so a chart reads the same in JupyterLab's dark theme.
"""

from __future__ import annotations

from typing import Any

import altair as alt

INK, QUIET_INK, PAPER = "#22303c", "#4b5a67", "#ffffff"
YEAST, SOUR = "#00736b", "#b4530a"
DILUTION, OWED, RIPENING = "#e3e8ec", "#cfe0ee", "#f3e7cf"
ASLEEP = "#3c4a63"
GRID, AXIS = "#e9edf0", "#9aa7b2"
FONT = "Helvetica, Arial, sans-serif"
YEAST_DASH, SOUR_DASH = [1, 0], [5, 4]


def dressed(chart: Any) -> Any:
    """Return a chart with Fallow's paper, ink and letters.

    >>> chart = dressed(alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q"))
    >>> chart.to_dict()["config"]["background"]
    '#ffffff'
    """
    # In one step: Altair copies a whole chart with each.
    return chart.configure(
        background=PAPER,
        font=FONT,
        view=alt.ViewConfig(stroke=None),
        title=alt.TitleConfig(color=INK, fontSize=14, anchor="start", subtitleColor=QUIET_INK, subtitleFontSize=12),
        axis=alt.AxisConfig(
            labelColor=INK,
            titleColor=INK,
            domainColor=AXIS,
            tickColor=AXIS,
            gridColor=GRID,
            labelFontSize=12,
            titleFontSize=12,
        ),
        legend=alt.LegendConfig(labelColor=INK, titleColor=INK, labelFontSize=12, titleFontSize=12),
    )


def register() -> None:
    """Make a notebook show Altair charts as SVG, which needs neither network nor kernel; call it once a page."""
    alt.renderers.enable("svg")
