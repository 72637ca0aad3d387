"""The second picture: feeds along, share of jars ready upward; what the counts say beside what the ledger says."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import altair as alt
import pandas as pd

from fallow.charts import theme
from fallow.charts.key import Word, box, key, point, stroke

WIDTH_PX, HEIGHT_PX = 640, 250
_STRIP_TOP, _DOT_PX, _ACROSS = HEIGHT_PX + 62, 7, 10
_STRIP_PX = 56
_PADDING = {"left": 56, "right": 20, "top": 56, "bottom": 62 + _STRIP_PX + 6}
INVENTED = "invented data"
Rows = list[dict[str, Any]]


@dataclass(frozen=True, kw_only=True)
class Recovery:
    """The tables of one recovery picture.

    Parameters
    ----------
    counts
        feed, chance, low, high, extrapolated: one row a feed (``fit_recovery(...).ready_by``).
    ledger
        feed, chance, low, high: what the ledger says on the same schedule; may be empty.
    jars
        feed, recovered, alike: one row a recorded jar; for a jar not yet recovered, the feeds it was seen for.
        ``alike`` marks those near the jar that is asked about.
    invented
        Say on the picture that the data are invented.
    feeds
        How many feeds the picture shows at least; it shows all of ``counts``, or of ``ledger`` where counts has no rows.
    """

    counts: pd.DataFrame
    ledger: pd.DataFrame
    jars: pd.DataFrame
    invented: bool
    feeds: int = 1

    @property
    def last_feed(self) -> int:
        """The last feed along the picture."""
        shown = self.counts if len(self.counts) else self.ledger
        return max(self.feeds, int(shown["feed"].max())) if len(shown) else self.feeds


def jar_marks(jars: pd.DataFrame, *, alike: pd.Series[bool] | bool = True) -> pd.DataFrame:
    """Return the picture's ``jars`` from a table of outcomes: each under its feed to recovery, or the last it was seen at.

    >>> seen = pd.DataFrame({"feeds_to_recovery": [2.0, None], "feeds_observed": [2, 5], "recovered": [True, False]})
    >>> jar_marks(seen)["feed"].tolist()
    [2.0, 5.0]
    """
    feed = jars["feeds_to_recovery"].where(jars["recovered"], jars["feeds_observed"])
    return pd.DataFrame({"feed": feed, "recovered": jars["recovered"], "alike": alike})


def recovery_rows(recovery: Recovery) -> dict[str, Rows]:
    """Return the picture's marks as plain rows by dataset name."""
    feeds = recovery.last_feed
    return {
        "counts": _steps(recovery.counts),
        "ledger": [
            {"feed": int(r.feed), "chance": _share(r.chance), "low": _share(r.low), "high": _share(r.high)}
            for r in recovery.ledger.itertuples()
            if r.feed <= feeds
        ],
        "jars": _dots(recovery.jars, feeds),
        "feeds": [{"feed": k, "label": f"{k}"} for k in range(1, feeds + 1)],
        "said": [{"text": INVENTED if recovery.invented else ""}],
    }


def recovery_chart(recovery: Recovery) -> alt.LayerChart:
    """Return the picture; a live chart may be fed further rows of the same names and number of feeds.

    Steps with a band are the counts (paler beyond what was recorded), open diamonds with whiskers the ledger; below,
    one dot a recorded jar under the feed at which it was ready, an open one under the last feed it was seen at without
    being ready.
    """
    rows = recovery_rows(recovery)
    feeds = len(rows["feeds"])
    chart = alt.layer(
        *_background(feeds),
        *_counts(feeds),
        *_ledger(feeds),
        *_jars(feeds),
        *_legend(),
        datasets=rows,
        width=WIDTH_PX,
        height=HEIGHT_PX,
        padding=_PADDING,
        autosize="none",
    )
    dressed: alt.LayerChart = theme.dressed(chart)
    return dressed


def _share(value: Any) -> float:
    return round(float(value), 4)


def _steps(counts: pd.DataFrame) -> Rows:
    return [
        {
            "from": int(r.feed) - 0.5,
            "to": int(r.feed) + 0.5,
            "chance": _share(r.chance),
            "low": _share(r.low),
            "high": _share(r.high),
            "shade": 0.10 if r.extrapolated else 0.22,
        }
        for r in counts.itertuples()
    ]


def _dots(jars: pd.DataFrame, feeds: int) -> Rows:
    """Stack the jars of one feed in rows of ten below the axis; those alike first, then recovered ones."""
    rows: Rows = []
    stood: Counter[float] = Counter()
    marks = zip(*(jars[name].tolist() for name in ("feed", "alike", "recovered")), strict=True)
    shown = [mark for mark in marks if 1 <= mark[0] <= feeds]
    for feed, alike, recovered in sorted(shown, key=lambda mark: (mark[0], not mark[1], not mark[2])):
        row, column = divmod(stood[feed], _ACROSS)
        stood[feed] += 1
        side = (column - (_ACROSS - 1) / 2) * _DOT_PX
        rows.append(
            {
                "x": round(feed + side * feeds / WIDTH_PX, 4),
                "y": -(_STRIP_TOP - HEIGHT_PX + row * _DOT_PX) / HEIGHT_PX,
                "size": 34 if alike else 12,
                "kind": f"{'alike' if alike else 'other'}, {'ready' if recovered else 'not yet'}",
            }
        )
    return rows


def _of(name: str) -> alt.Chart:
    return alt.Chart(alt.NamedData(name=name))


def _x(field: str, feeds: int) -> alt.X:
    return alt.X(f"{field}:Q", axis=None, scale=alt.Scale(domain=[0.5, feeds + 0.5], nice=False, zero=False))


def _y(field: str) -> alt.Y:
    return alt.Y(f"{field}:Q", axis=None, scale=alt.Scale(domain=[0, 1], nice=False))


def _background(feeds: int) -> list[alt.Chart]:
    tenths = alt.Chart(alt.InlineData([{"y": k / 10, "label": f"{k}"} for k in (0, 2, 4, 6, 8, 10)]))
    numbers = _of("feeds").encode(x=_x("feed", feeds), y=alt.value(HEIGHT_PX))
    one = alt.Chart(alt.InlineData([{}]))
    bold = {"color": theme.INK, "fontSize": 12, "fontWeight": "bold"}
    return [
        tenths.mark_rule(color=theme.GRID).encode(x=alt.value(0), x2=alt.value(WIDTH_PX), y=_y("y")),
        tenths.mark_text(align="right", dx=-8, color=theme.INK, fontSize=12).encode(
            x=alt.value(0), y=_y("y"), text="label:N"
        ),
        numbers.mark_text(dy=16, color=theme.INK, fontSize=12).encode(text="label:N"),
        one.mark_text(dy=34, **bold).encode(
            x=alt.value(WIDTH_PX / 2), y=alt.value(HEIGHT_PX), text=alt.value("feeds after the cold")
        ),
        one.mark_text(angle=270, **bold).encode(
            x=alt.value(-38), y=alt.value(HEIGHT_PX / 2), text=alt.value("jars ready, of 10")
        ),
        _of("said")
        .mark_text(align="right", color=theme.SOUR, fontSize=12, fontWeight="bold")
        .encode(x=alt.value(WIDTH_PX), y=alt.value(-44), text="text:N"),
    ]


def _counts(feeds: int) -> list[alt.Chart]:
    steps = _of("counts")
    shade = alt.Opacity("shade:Q", scale=None, legend=None)
    return [
        steps.mark_rect(color=theme.YEAST).encode(x=_x("from", feeds), x2="to", y=_y("low"), y2="high", opacity=shade),
        steps.mark_rule(color=theme.YEAST, strokeWidth=2.6).encode(x=_x("from", feeds), x2="to", y=_y("chance")),
    ]


def _ledger(feeds: int) -> list[alt.Chart]:
    ledger = _of("ledger")
    return [
        ledger.mark_rule(color=theme.INK, strokeWidth=1.2).encode(x=_x("feed", feeds), y=_y("low"), y2="high"),
        ledger.mark_point(
            shape="diamond", size=150, color=theme.INK, fill=theme.PAPER, strokeWidth=1.8, opacity=1
        ).encode(x=_x("feed", feeds), y=_y("chance")),
    ]


_KINDS = {
    "alike, ready": (theme.YEAST, theme.YEAST),
    "alike, not yet": (theme.YEAST, theme.PAPER),
    "other, ready": (theme.AXIS, theme.AXIS),
    "other, not yet": (theme.AXIS, theme.PAPER),
}


def _jars(feeds: int) -> list[alt.Chart]:
    kinds = list(_KINDS)
    stroke = alt.Stroke("kind:N", scale=alt.Scale(domain=kinds, range=[_KINDS[k][0] for k in kinds]), legend=None)
    fill = alt.Fill("kind:N", scale=alt.Scale(domain=kinds, range=[_KINDS[k][1] for k in kinds]), legend=None)
    size = alt.Size("size:Q", scale=None, legend=None)
    dots = _of("jars").mark_point(shape="circle", strokeWidth=1.2, opacity=1)
    return [dots.encode(x=_x("x", feeds), y=_y("y"), stroke=stroke, fill=fill, size=size)]


def _legend() -> list[alt.Chart]:
    """Name the three voices in one line above the picture, each beside the mark it has."""
    words = (
        Word(text="counts, 90 % band", marks=(box(theme.YEAST, opacity=0.22), stroke(theme.YEAST, wide=2.6))),
        Word(text="ledger, same schedule", marks=(point("diamond", size=120, color=theme.INK, fill=theme.PAPER),)),
        Word(
            text="jars (large: like yours; open: not yet)",
            marks=(point("circle", size=24, color=theme.YEAST, fill=theme.YEAST),),
        ),
    )
    return key(words, y_px=-22, gap_px=18)
