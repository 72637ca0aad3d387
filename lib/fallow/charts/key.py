"""A picture's key in one line: each word beside the mark it names, with room for the widest letters it may be drawn in.

A library's own legend is laid out by the letters of the machine that draws it; on one with wider letters its words touch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import altair as alt

from fallow.charts import theme
from fallow.charts.lettering import text_px

SIZE, MARK_PX = 12, 18
_BESIDE_PX = 5
Drawn = Callable[[alt.Chart, float, float], alt.Chart]


@dataclass(frozen=True, kw_only=True)
class Word:
    """One word of a key; ``marks`` draw what it names, each from a left end and a middle height in pixels; bold without any."""

    text: str
    marks: tuple[Drawn, ...] = ()

    @property
    def before_px(self) -> float:
        """How much room its marks take before it."""
        return MARK_PX + _BESIDE_PX if self.marks else 0.0

    @property
    def wide_px(self) -> float:
        """How wide it is with its marks."""
        return self.before_px + text_px(self.text, size=SIZE, bold=not self.marks)


def key(words: Sequence[Word], *, y_px: float, gap_px: float) -> list[alt.Chart]:
    """Return the layers of a key from the picture's left edge on."""
    one, left = alt.Chart(alt.InlineData([{}])), 0.0
    layers: list[alt.Chart] = []
    for word in words:
        weight = "normal" if word.marks else "bold"
        said = one.mark_text(align="left", baseline="middle", color=theme.INK, fontSize=SIZE, fontWeight=weight)
        layers += [mark(one, left, y_px) for mark in word.marks]
        layers.append(
            said.encode(x=alt.XValue(left + word.before_px), y=alt.YValue(y_px), text=alt.TextValue(word.text))
        )
        left += word.wide_px + gap_px
    return layers


def box(color: str, *, opacity: float = 1.0) -> Drawn:
    """Return a mark: a filled square."""

    def drawn(one: alt.Chart, left: float, y_px: float) -> alt.Chart:
        return one.mark_rect(color=color, opacity=opacity).encode(
            x=alt.XValue(left), x2=alt.X2Value(left + MARK_PX), y=alt.YValue(y_px - 8), y2=alt.Y2Value(y_px + 8)
        )

    return drawn


def stroke(color: str, *, dash: Sequence[float] = (1, 0), wide: float = 2.4) -> Drawn:
    """Return a mark: a line, dashed or whole."""

    def drawn(one: alt.Chart, left: float, y_px: float) -> alt.Chart:
        return one.mark_rule(color=color, strokeDash=list(dash), strokeWidth=wide).encode(
            x=alt.XValue(left), x2=alt.X2Value(left + MARK_PX), y=alt.YValue(y_px)
        )

    return drawn


def point(shape: str, *, size: float, color: str, fill: str) -> Drawn:
    """Return a mark: a point."""

    def drawn(one: alt.Chart, left: float, y_px: float) -> alt.Chart:
        return one.mark_point(shape=shape, size=size, color=color, fill=fill, strokeWidth=1.8, opacity=1).encode(
            x=alt.XValue(left + MARK_PX / 2), y=alt.YValue(y_px)
        )

    return drawn
