"""The signature picture: doublings earned rise through the doublings needed; where they meet, the feed is ripe."""

from __future__ import annotations

from typing import Any

import altair as alt

from fallow.charts import theme
from fallow.charts.key import Word, box, key, stroke
from fallow.charts.ledger_rows import FOLD_WORDS_PX, HEIGHT_PX, NEEDS, WIDTH_PX, Ledger, LedgerRows, ledger_rows
from fallow.charts.time_axis import RIGHT_PX

_PADDING = {"left": 52, "right": RIGHT_PX, "top": 50, "bottom": 44}
_CLOCKS = ["yeast clock", "sour clock"]


def ledger_chart(ledger: Ledger) -> alt.LayerChart:
    """Return the picture of one ledger, drawn once."""
    rows = ledger_rows(ledger)
    return dressed_with(rows)


def dressed_with(rows: LedgerRows) -> alt.LayerChart:
    """Return the picture with these rows; a live chart may be fed further rows of the same names.

    Layers stand for what is needed (dilution, owed from the cold, to visibly ripe), a solid line with its band for the
    yeast clock, a dashed one for the sour clock, thin ones for another story about the cold, a diamond with its whisker
    for ripe, a triangle for sour, an upright whisker for what is owed, a hollow square for a look that was typed in,
    an upright rule for what happens at an hour.
    """
    chart = alt.layer(
        *_background(),
        *_needed(),
        *_earned(),
        *_marks(),
        *_words(),
        *_key(),
        width=WIDTH_PX,
        height=HEIGHT_PX,
        padding=_PADDING,
        autosize="none",
        params=[
            alt.VariableParameter(name=alt.ParameterName(name), value=value) for name, value in rows.signals.items()
        ],
        resolve=alt.Resolve(scale=alt.ScaleResolveMap(color="independent", strokeDash="independent")),
    )
    dressed: alt.LayerChart = theme.dressed(chart)
    # Last, for Altair copies all it holds with every step.
    dressed.datasets = rows.data
    return dressed


def _of(name: str) -> alt.Chart:
    return alt.Chart(alt.NamedData(name=name))


def _x(field: str = "x") -> alt.X:
    return alt.X(f"{field}:Q", axis=None, scale=alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False, zero=False))


def _y(field: str = "y") -> alt.Y:
    return alt.Y(f"{field}:Q", axis=None, scale=alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False, zero=False))


# Channels are named objects: Altair looks through its whole schema for each that is only a text or a value.
def _x2(field: str = "x2") -> alt.X2:
    return alt.X2(field)


def _y2() -> alt.Y2:
    return alt.Y2("y2")


def _text(field: str = "text") -> alt.Text:
    return alt.Text(f"{field}:N")


def _background() -> list[alt.Chart]:
    grid, ticks, folds = _of("grid"), _of("ticks"), _of("folds")
    bottom, below = alt.YValue(HEIGHT_PX), alt.Y2Value(HEIGHT_PX)
    return [
        grid.mark_rule(color=theme.GRID).encode(x=alt.XValue(0), x2=alt.X2Value(WIDTH_PX), y=_y()),
        grid.mark_text(align="right", dx=-8, color=theme.INK, fontSize=13).encode(
            x=alt.XValue(0), y=_y(), text=_text("label")
        ),
        ticks.mark_rule(color=theme.AXIS).encode(x=_x(), y=bottom, y2=alt.Y2Value(HEIGHT_PX + 5)),
        ticks.mark_text(dy=15, color=theme.INK, fontSize=13).encode(x=_x(), y=bottom, text=_text("clock")),
        ticks.mark_text(dy=31, color=theme.QUIET_INK, fontSize=13).encode(x=_x("day_x"), y=bottom, text=_text("day")),
        folds.mark_rect(color=theme.ASLEEP, opacity=0.08).encode(x=_x(), x2=_x2(), y=alt.YValue(0), y2=below),
        folds.mark_rule(color=theme.AXIS, strokeDash=[2, 3]).encode(x=_x(), y=alt.YValue(0), y2=below),
        folds.mark_rule(color=theme.AXIS, strokeDash=[2, 3]).encode(x=_x("x2"), y=alt.YValue(0), y2=below),
    ]


def _needed() -> list[alt.Chart]:
    names = [what for what, _ in NEEDS]
    scale = alt.Scale(domain=names, range=[theme.DILUTION, theme.OWED, theme.RIPENING])
    color = alt.Color("what:N", scale=scale, legend=None)
    return [_of("needs").mark_rect(opacity=0.9).encode(x=_x(), x2=_x2(), y=_y(), y2=_y2(), color=color)]


def _earned() -> list[alt.Chart]:
    scale = alt.Scale(domain=_CLOCKS, range=[theme.YEAST, theme.SOUR])
    dashes = alt.Scale(domain=_CLOCKS, range=[theme.YEAST_DASH, theme.SOUR_DASH])
    return [
        _of("band")
        .mark_area(color=theme.YEAST, opacity=0.15)
        .encode(x=_x(), y=_y(), y2=_y2(), detail=alt.Detail("feed:N")),
        _of("earned")
        .mark_line(strokeWidth=2.4)
        .encode(
            x=_x(),
            y=_y(),
            detail=alt.Detail("feed:N"),
            color=alt.Color("clock:N", scale=scale, legend=None),
            strokeDash=alt.StrokeDash("clock:N", scale=dashes, legend=None),
        ),
        _of("stories")
        .mark_line(strokeWidth=1.3, opacity=0.9)
        .encode(
            x=_x(),
            y=_y(),
            detail=alt.Detail("story:N"),
            color=alt.Color("clock:N", scale=scale, legend=None),
            strokeDash=alt.StrokeDash("clock:N", scale=dashes, legend=None),
        ),
    ]


def _key() -> list[alt.Chart]:
    """Name in one line what is needed and what is earned, each beside the mark it has."""
    colors = (theme.DILUTION, theme.OWED, theme.RIPENING)
    clocks = ((theme.YEAST, theme.YEAST_DASH), (theme.SOUR, theme.SOUR_DASH))
    words = (
        Word(text="needed"),
        *(Word(text=what, marks=(box(color),)) for (what, _), color in zip(NEEDS, colors, strict=True)),
        Word(text="earned"),
        *(
            Word(text=clock, marks=(stroke(color, dash=dash),))
            for clock, (color, dash) in zip(_CLOCKS, clocks, strict=True)
        ),
    )
    return key(words, y_px=-26, gap_px=5)


def _marks() -> list[alt.Chart]:
    asleep, ripe, spans = _of("asleep"), _of("ripe"), _of("spans")
    return [
        spans.mark_rule(color=theme.INK, strokeWidth=1.6).encode(x=_x(), y=_y(), y2=_y2()),
        spans.mark_tick(color=theme.INK, thickness=3, size=18, orient="horizontal").encode(x=_x(), y=_y("middle")),
        _of("moments").mark_rule(color=theme.INK, strokeWidth=1.2).encode(x=_x(), y=_y(), y2=alt.Y2Value(HEIGHT_PX)),
        asleep.mark_rect(color=theme.ASLEEP).encode(x=_x(), x2=_x2(), y=_y(), y2=_y2()),
        asleep.mark_text(align="left", dx=5, color=theme.PAPER, fontSize=11).encode(
            x=_x(), y=_y("middle"), text=_text()
        ),
        ripe.mark_rule(color=theme.YEAST, strokeWidth=1.6).encode(x=_x("low"), x2=_x2("high"), y=_y()),
        _of("soured")
        .mark_point(shape="triangle-up", filled=True, size=80, color=theme.SOUR, opacity=1)
        .encode(x=_x(), y=_y()),
        ripe.mark_point(shape="diamond", filled=True, size=150, color=theme.YEAST, opacity=1).encode(x=_x(), y=_y()),
        _of("looks")
        .mark_point(shape="square", size=90, color=theme.INK, fill=theme.PAPER, opacity=1)
        .encode(x=_x(), y=_y()),
    ]


def _words() -> list[alt.Chart]:
    heads, labels, folds = _of("heads"), _of("labels"), _of("folds")
    halo: dict[str, Any] = {"stroke": theme.PAPER, "strokeWidth": 4, "strokeOpacity": 0.85, "strokeJoin": "round"}
    size = alt.Size("size:Q", scale=None, legend=None)
    ink: dict[str, Any] = {"test": "datum.weight == 'bold'", "value": theme.INK}
    bold = alt.ColorValue(theme.QUIET_INK, condition=ink)
    said = labels.mark_text(align="left", baseline="middle", color=theme.INK, fontSize=13, fontWeight="bold")
    under = labels.mark_text(align="left", baseline="middle", color=theme.INK, fontSize=13, fontWeight="bold", **halo)
    title = alt.Chart(alt.InlineData([{}])).mark_text(angle=270, color=theme.INK, fontSize=13, fontWeight="bold")
    return [
        folds.mark_text(dy=-FOLD_WORDS_PX, color=theme.INK, fontSize=12).encode(
            x=_x("middle"), y=alt.YValue(HEIGHT_PX), text=_text()
        ),
        heads.transform_filter("datum.weight == 'bold'")
        .mark_text(align="left", baseline="middle", fontWeight="bold")
        .encode(x=_x(), y=_y(), text=_text(), size=size, color=bold),
        heads.transform_filter("datum.weight != 'bold'")
        .mark_text(align="left", baseline="middle")
        .encode(x=_x(), y=_y(), text=_text(), size=size, color=bold),
        under.encode(x=_x(), y=_y(), text=_text()),
        said.encode(x=_x(), y=_y(), text=_text()),
        title.encode(x=alt.XValue(-36), y=alt.YValue(HEIGHT_PX / 2), text=alt.TextValue("doublings")),
    ]
