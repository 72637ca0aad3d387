"""Published growth curves on one picture: a full line where they were measured, a broken one where they are carried on."""

from __future__ import annotations

import altair as alt
import pandas as pd

from fallow.charts import theme
from fallow.maths.rates import PublishedCurve

WIDTH_PX, HEIGHT_PX = 500, 300
MEASURED, CARRIED_ON = "measured", "carried on"
DASHES = {MEASURED: [1, 0], CARRIED_ON: [4, 4]}


def curves_chart(rates: pd.DataFrame) -> alt.Chart:
    """Return growth per hour against temperature, one line a curve.

    ``rates`` has curve, temp_c, per_hour, extrapolated: one row a curve and temperature. Each curve has its own shape of
    mark as well as its colour, and what was not measured is broken.

    >>> rows = pd.DataFrame({"curve": ["A"], "temp_c": [20.0], "per_hour": [0.2], "extrapolated": [False]})
    >>> curves_chart(rows).to_dict()["encoding"]["x"]["title"]
    'temperature, °C'
    """
    known = rates["extrapolated"].map({False: MEASURED, True: CARRIED_ON})
    # A stretch of its own below, within and above what was measured, or a broken line would cross the picture.
    stretch = rates.groupby("curve", sort=False)["extrapolated"].transform(lambda seen: (seen != seen.shift()).cumsum())
    names = list(dict.fromkeys(rates["curve"]))
    inks = [theme.YEAST, theme.SOUR, theme.ASLEEP][: len(names)]
    legend = alt.Legend(orient="bottom", direction="vertical", labelLimit=300)
    colour = alt.Color("curve:N", title=None, scale=alt.Scale(domain=names, range=inks), legend=legend)
    dash = alt.StrokeDash(
        "known:N", title=None, scale=alt.Scale(domain=list(DASHES), range=list(DASHES.values())), legend=legend
    )
    chart = (
        alt.Chart(rates.assign(known=known, stretch=stretch))
        .mark_line(strokeWidth=2.2)
        .encode(
            x=alt.X("temp_c:Q", title="temperature, °C"),
            y=alt.Y("per_hour:Q", title="growth rate, per hour"),
            color=colour,
            strokeDash=dash,
            detail="stretch:O",
        )
        .properties(width=WIDTH_PX, height=HEIGHT_PX)
    )
    shown: alt.Chart = theme.dressed(chart)
    return shown


def rates_of(curves: tuple[PublishedCurve, ...], temp_c: list[float]) -> pd.DataFrame:
    """Return the rows of the picture: every curve at every temperature.

    >>> from fallow.maths.rates import GAENZLE_1998_YEAST
    >>> rates_of((GAENZLE_1998_YEAST,), [4.0, 26.0]).round(3).values.tolist()[1][1:]
    [26.0, 0.414, False]
    """
    parts = [
        pd.DataFrame(
            {
                "curve": curve.name,
                "temp_c": temp_c,
                "per_hour": curve.per_hour(temp_c=temp_c),
                "extrapolated": curve.extrapolated(temp_c=temp_c),
            }
        )
        for curve in curves
    ]
    return pd.concat(parts, ignore_index=True)
