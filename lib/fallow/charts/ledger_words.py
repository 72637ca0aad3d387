"""The words of the signature picture: what stands above a feed, and when it is ripe, as full as a slot has room for."""

from __future__ import annotations

import math
from typing import Any

from fallow.charts.lettering import text_px, wrapped
from fallow.charts.time_axis import TimeAxis

HEAD_SIZE, SMALL_SIZE, LABEL_SIZE = 14, 12, 13


def head_lines(feed: Any, *, axis: TimeAxis, slot_px: float) -> list[tuple[str, int]]:
    """Return the lines above a feed with their sizes: its name and hour, and what it is made of where that fits a slot."""
    titles = _titles(str(feed.feed), axis.clock(feed.at_hours, minutes=1), slot_px)
    whole = [part for text in (feed.grams, feed.place) for part in str(text).split(" · ") if part]
    parts = [
        short for part in whole for short in ([part] if text_px(part, size=SMALL_SIZE) <= slot_px else part.split(", "))
    ]
    small = wrapped(parts, width_px=slot_px, size=SMALL_SIZE)
    fits = all(text_px(line, size=SMALL_SIZE) <= slot_px for line in small)
    return [*titles, *((line, SMALL_SIZE) for line in small if fits)]


def _titles(name: str, clock: str, slot_px: float) -> list[tuple[str, int]]:
    """Return a feed's name and hour in one line, in two, or, where hours are drawn very narrow, its number alone."""
    for bold, *plain in ([f"{name}, {clock}"], [name, clock]):
        if text_px(bold, size=HEAD_SIZE, bold=True) <= slot_px:
            return [(bold, HEAD_SIZE), *((line, SMALL_SIZE) for line in plain)]
    return [(name.removeprefix("feed "), HEAD_SIZE)]


def ripe_text(axis: TimeAxis, *, ripe: float, low: float, high: float) -> str:
    """Return 'ripe 20:30 (19:00 to 22:30)', with words where an end is not reached; a date has dates for its ends."""
    say = axis.date if axis.dated and axis.folded(ripe) else axis.said_briefly
    late = say(high) if math.isfinite(high) else "later than shown"
    return f"ripe {axis.said(ripe)} ({say(low)} to {late})"


def ripe_forms(text: str, slot_px: float) -> list[list[str]]:
    """Return the ways to say a ripe label that fit its slot, the fullest first: one line, two, without its ends, the hour alone.

    Where only the hour is said, the whisker and the table keep the interval.
    """
    head, _, ends = text.removesuffix(")").partition(" (")
    forms = [[text], [head, ends]]
    fitting = [f for f in forms if max(text_px(line, size=LABEL_SIZE, bold=True) for line in f) <= slot_px * 1.1]
    return [*fitting, [head], [head.removeprefix("ripe ")]]
