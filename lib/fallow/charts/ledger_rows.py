"""What the signature picture draws, as plain rows: every word has its place before anything is painted."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from fallow.charts.ledger_cold import span_rows, story_rows, until
from fallow.charts.ledger_words import HEAD_SIZE, LABEL_SIZE, SMALL_SIZE, head_lines, ripe_forms, ripe_text
from fallow.charts.lettering import Box, placed_label, text_px
from fallow.charts.time_axis import RIGHT_PX, TimeAxis

WIDTH_PX, HEIGHT_PX = 640, 350
# How high a fold's words stand above the bottom.
FOLD_WORDS_PX = 12
_SLEEP_PX, _LINE_PX = 13, 16
# Dates take more room than hours: beside a mark in a fold they stand in two lines.
_AIR, _DATED_PX = 1.3, 160
NEEDS = (
    ("dilution", "dilution_doublings"),
    ("owed from the cold", "owed_doublings"),
    ("to visibly ripe", "ripening_doublings"),
)
Rows = list[dict[str, Any]]

NO_SLEEP = pd.DataFrame({"from_hours": [], "to_hours": []})
NO_LOOKS = pd.DataFrame({"hours": [], "doublings": [], "label": []})
NO_MOMENTS = pd.DataFrame({"hours": [], "label": []})
NO_STORIES = pd.DataFrame({"clock": [], "story": [], "hours": [], "doublings": []})
NO_SPANS = pd.DataFrame({"hours": [], "doublings": [], "low": [], "high": []})


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """The tables of one signature picture; all hours count from the axis's start.

    Parameters
    ----------
    axis
        The clock along the bottom.
    feeds
        One row a feed: feed, at_hours, until_hours, dilution_doublings, owed_doublings, ripening_doublings, grams and
        place (words), ripe_hours, ripe_low_hours, ripe_high_hours, sour_hours (missing or inf where not reached),
        sour_doublings (needed by the sour clock).
    earned
        One row a feed and hour: feed, hours, yeast, yeast_low, yeast_high, sour (doublings earned since that feed).
    asleep
        from_hours, to_hours: when nobody is awake.
    looks
        hours, doublings, label: looks that were typed in.
    moments
        hours, label: what happens at an hour but is no feed (dough is mixed, a jar goes to the cold).
    stories
        clock ("yeast", "sour"), story, hours, doublings: what a clock earns under another story about the cold.
    spans
        hours, doublings, low, high: a number of doublings with its interval, as an upright whisker.
    told
        hours, doublings, label: words beside a point that has no mark of its own; a line break parts lines.
    """

    axis: TimeAxis
    feeds: pd.DataFrame
    earned: pd.DataFrame
    asleep: pd.DataFrame = field(default_factory=NO_SLEEP.copy)
    looks: pd.DataFrame = field(default_factory=NO_LOOKS.copy)
    moments: pd.DataFrame = field(default_factory=NO_MOMENTS.copy)
    stories: pd.DataFrame = field(default_factory=NO_STORIES.copy)
    spans: pd.DataFrame = field(default_factory=NO_SPANS.copy)
    told: pd.DataFrame = field(default_factory=NO_LOOKS.copy)


@dataclass(frozen=True, kw_only=True)
class LedgerRows:
    """Named rows for the chart's layers and the ends of its two scales."""

    data: dict[str, Rows]
    signals: dict[str, float]


ROWS = (
    "needs", "band", "earned", "grid", "ripe", "soured", "asleep", "looks", "moments", "stories", "spans", "ticks", "folds", "heads",
    "labels",
)  # fmt: skip


def no_rows() -> LedgerRows:
    """Return a picture with nothing on it: where there is no plan, and until there is one."""
    return LedgerRows(data={name: [] for name in ROWS}, signals={"x_high": 1.0, "y_high": 1.0})


def ledger_rows(ledger: Ledger) -> LedgerRows:
    """Return every mark and word of the picture, placed.

    The scale is pixels at 640 by 350; the drawn picture may be made larger or smaller as a whole, so what fits here
    fits at every size.
    """
    feeds = list(ledger.feeds.itertuples())
    heads = [head_lines(feed, axis=ledger.axis, slot_px=_slot_px(feed, ledger.axis)) for feed in feeds]
    head_px = _SLEEP_PX + 8 + _LINE_PX * max((len(lines) for lines in heads), default=0)
    ceiling = _AIR * max(_needed(feed) for feed in feeds)
    frame = _Frame(ledger=ledger, feeds=feeds, y_high=ceiling / (1 - head_px / HEIGHT_PX), ceiling=ceiling)
    data = {
        "needs": frame.needs(),
        "band": frame.band(),
        "earned": frame.lines(),
        "grid": frame.grid(),
        "ripe": frame.ripe(),
        "soured": frame.soured(),
        "asleep": frame.asleep(),
        "looks": frame.looks(),
        "moments": frame.moments(),
        "stories": story_rows(ledger.stories, axis=ledger.axis, ceiling=ceiling),
        "spans": span_rows(ledger.spans, axis=ledger.axis, ceiling=ceiling),
        "ticks": ledger.axis.ticks(width_px=WIDTH_PX),
        "folds": frame.folds(),
    }
    words = frame.heads(heads)
    data["heads"] = words
    data["labels"] = frame.labels(data, words)
    return LedgerRows(data=data, signals={"x_high": ledger.axis.drawn_hours, "y_high": round(frame.y_high, 4)})


def _slot_px(feed: Any, axis: TimeAxis) -> float:
    """Return how wide words above a feed may be, with air to the next feed's."""
    return float(np.diff(axis.drawn([feed.at_hours, feed.until_hours]))[0]) / axis.drawn_hours * WIDTH_PX - 10


def _needed(feed: Any) -> float:
    return float(feed.dilution_doublings + feed.owed_doublings + feed.ripening_doublings)


@dataclass(frozen=True, kw_only=True)
class _Frame:
    ledger: Ledger
    feeds: list[Any]
    y_high: float
    ceiling: float

    def x_px(self, hours: float) -> float:
        return float(self.ledger.axis.drawn(hours)) / self.ledger.axis.drawn_hours * WIDTH_PX

    def y_px(self, doublings: float) -> float:
        return HEIGHT_PX * (1 - doublings / self.y_high)

    def at(self, *, x_px: float, y_px: float) -> dict[str, float]:
        x = x_px / WIDTH_PX * self.ledger.axis.drawn_hours
        return {"x": round(x, 4), "y": round(self.y_high * (1 - y_px / HEIGHT_PX), 4)}

    def x(self, hours: float) -> float:
        return round(float(self.ledger.axis.drawn(hours)), 4)

    def needs(self) -> Rows:
        rows: Rows = []
        for feed in self.feeds:
            below = 0.0
            for what, column in NEEDS:
                above = below + float(getattr(feed, column))
                if above > below:
                    ends = {"x": self.x(feed.at_hours), "x2": self.x(feed.until_hours)}
                    rows.append({"what": what, **ends, "y": round(below, 4), "y2": round(above, 4)})
                below = above
        return rows

    def band(self) -> Rows:
        table = self.ledger.earned
        x = self.ledger.axis.drawn(table["hours"])
        low, high = (
            np.minimum(table[name].to_numpy(dtype=float), self.ceiling) for name in ("yeast_low", "yeast_high")
        )
        ends = np.round(np.column_stack([x, low, high]), 4).tolist()
        return [{"feed": f, "x": a, "y": b, "y2": c} for f, (a, b, c) in zip(table["feed"], ends, strict=True)]

    def lines(self) -> Rows:
        rows: Rows = []
        for feed, part in self.ledger.earned.groupby("feed", sort=False):
            x = self.ledger.axis.drawn(part["hours"])
            for clock in ("yeast", "sour"):
                line = np.column_stack(until(x, part[clock].to_numpy(dtype=float), self.ceiling))
                named = {"feed": feed, "clock": f"{clock} clock"}
                rows += [{**named, "x": a, "y": b} for a, b in np.round(line, 4).tolist()]
        return rows

    def grid(self) -> Rows:
        step = next(s for s in (1, 2, 4, 5, 10, 20, 50) if self.ceiling / s <= 6)
        return [{"y": float(v), "label": f"{v:g}"} for v in np.arange(0, self.ceiling + 1e-9, step)]

    def ripe(self) -> Rows:
        rows: Rows = []
        for feed in self.feeds:
            if not math.isfinite(feed.ripe_hours):
                continue
            high = feed.ripe_high_hours if math.isfinite(feed.ripe_high_hours) else feed.until_hours
            folded = self.ledger.axis.folded(feed.ripe_hours)
            last = feed.until_hours if folded else self.ledger.axis.hours
            ends = {"low": self.x(feed.ripe_low_hours), "high": self.x(min(high, last))}
            text = ripe_text(self.ledger.axis, ripe=feed.ripe_hours, low=feed.ripe_low_hours, high=feed.ripe_high_hours)
            slot = self.x_px(feed.until_hours) - self.x_px(feed.at_hours)
            forms = ripe_forms(text, min(slot, _DATED_PX) if folded else slot)
            rows.append({"x": self.x(feed.ripe_hours), "y": round(_needed(feed), 4), **ends, "forms": forms})
        return rows

    def soured(self) -> Rows:
        reached = [feed for feed in self.feeds if math.isfinite(feed.sour_hours)]
        return [{"x": self.x(f.sour_hours), "y": round(float(f.sour_doublings), 4)} for f in reached]

    def asleep(self) -> Rows:
        top, below = self.y_high, self.y_high * (1 - _SLEEP_PX / HEIGHT_PX)
        rows: Rows = []
        for night in self.ledger.asleep.itertuples():
            ends = {"x": self.x(night.from_hours), "x2": self.x(night.to_hours)}
            wide = self.x_px(night.to_hours) - self.x_px(night.from_hours)
            text = "asleep" if wide > text_px("asleep", size=11) + 6 else ""
            rows.append(
                {**ends, "y": round(below, 4), "y2": round(top, 4), "middle": round((top + below) / 2, 4), "text": text}
            )
        return rows

    def looks(self) -> Rows:
        table = self.ledger.looks
        return [
            {"x": self.x(r.hours), "y": round(float(r.doublings), 4), "forms": [[str(r.label)]]}
            for r in table.itertuples()
        ]

    def moments(self) -> Rows:
        top = round(self.ceiling * 0.96, 4)
        return [{"x": self.x(r.hours), "y": top, "forms": [[str(r.label)]]} for r in self.ledger.moments.itertuples()]

    def folds(self) -> Rows:
        rows = []
        for fold in self.ledger.axis.folds:
            ends = {"x": self.x(fold.from_hours), "x2": self.x(fold.to_hours)}
            rows.append({**ends, "middle": (ends["x"] + ends["x2"]) / 2, "text": fold.label})
        return rows

    def heads(self, heads: list[list[tuple[str, int]]]) -> Rows:
        rows: Rows = []
        for feed, lines in zip(self.feeds, heads, strict=True):
            for k, (text, size) in enumerate(lines):
                at = self.at(x_px=self.x_px(feed.at_hours) + 5, y_px=_SLEEP_PX + 4 + _LINE_PX * (k + 0.5))
                rows.append({**at, "text": text, "size": size, "weight": "bold" if size == HEAD_SIZE else "normal"})
        return rows

    def labels(self, data: dict[str, Rows], heads: Rows) -> Rows:
        paper = Box(left=2, top=_SLEEP_PX, right=WIDTH_PX + RIGHT_PX - 2, bottom=HEIGHT_PX - 2)
        widths = [text_px(r["text"], size=r["size"], bold=r["weight"] == "bold") for r in heads]
        taken = [self._box(r["x"], r["y"], wide, r["size"]) for r, wide in zip(heads, widths, strict=True)]
        told = [
            {"x": self.x(r.hours), "y": float(r.doublings), "forms": [str(r.label).split("\n")]}
            for r in self.ledger.told.itertuples()
        ]
        marks = [row for name in ("ripe", "looks", "moments") for row in data[name]] + told
        taken += [self._box(r["x"], r["y"], 10, 12, centred=True) for r in marks + data["soured"]]
        for fold in data["folds"]:
            at = self.at(x_px=0, y_px=HEIGHT_PX - FOLD_WORDS_PX)
            taken.append(self._box(fold["middle"], at["y"], text_px(fold["text"], size=SMALL_SIZE), 12, centred=True))
        rows: Rows = []
        for row in marks:
            px, py = row["x"] / self.ledger.axis.drawn_hours * WIDTH_PX, self.y_px(row["y"])
            label = placed_label(row["forms"], x_px=px, y_px=py, size=LABEL_SIZE, paper=paper, taken=taken)
            spot, lines = label.box, label.lines
            taken.append(spot)
            step = (spot.bottom - spot.top) / len(lines)
            for k, text in enumerate(lines):
                rows.append({**self.at(x_px=spot.left, y_px=spot.top + (k + 0.5) * step), "text": text})
        return rows

    def _box(self, x: float, y: float, wide: float, high: float, *, centred: bool = False) -> Box:
        left = x / self.ledger.axis.drawn_hours * WIDTH_PX - (wide / 2 if centred else 0)
        middle = self.y_px(y)
        return Box(left=left, top=middle - high / 2, right=left + wide, bottom=middle + high / 2)
