"""Where the words of a signature picture stand, as rectangles, and which of them lie on one another."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from fallow.charts.ledger_rows import FOLD_WORDS_PX, HEIGHT_PX, WIDTH_PX, LedgerRows
from fallow.charts.lettering import Box, text_px
from fallow.charts.time_axis import RIGHT_PX

LABEL_SIZE, FOLD_SIZE, TICK_SIZE = 13, 12, 13
# What stands left of the grid and below it is still paper.
LEFT_PX, BELOW_PX = 52, 44


def words_of(rows: LedgerRows) -> Iterator[tuple[str, Box]]:
    """Give every word of the picture with the rectangle it fills, as ``charts.ledger`` paints it."""
    for row in rows.data["heads"]:
        wide = text_px(row["text"], size=row["size"], bold=row["weight"] == "bold")
        yield row["text"], _box(wide, row["size"], left=_x(rows, row["x"]), middle=_y(rows, row["y"]))
    for row in rows.data["labels"]:
        wide = text_px(row["text"], size=LABEL_SIZE, bold=True)
        yield row["text"], _box(wide, LABEL_SIZE, left=_x(rows, row["x"]), middle=_y(rows, row["y"]))
    for row in rows.data["folds"]:
        wide = text_px(row["text"], size=FOLD_SIZE)
        left = _x(rows, row["middle"]) - wide / 2
        yield row["text"], _box(wide, FOLD_SIZE, left=left, middle=HEIGHT_PX - FOLD_WORDS_PX)
    for row, (name, at, below) in itertools.product(rows.data["ticks"], (("clock", "x", 15), ("day", "day_x", 31))):
        if row[name]:
            wide = text_px(row[name], size=TICK_SIZE)
            yield row[name], _box(wide, TICK_SIZE, left=_x(rows, row[at]) - wide / 2, middle=HEIGHT_PX + below)


def colliding(rows: LedgerRows) -> list[str]:
    """Return each pair of words that lie on one another, and each word that leaves the paper."""
    words = list(words_of(rows))
    pairs = [f"{a} / {b}" for (a, one), (b, other) in itertools.combinations(words, 2) if one.overlap(other) > 1]
    paper = Box(left=-LEFT_PX, top=0, right=WIDTH_PX + RIGHT_PX, bottom=HEIGHT_PX + BELOW_PX)
    return pairs + [f"{word} leaves the paper" for word, box in words if box.outside(paper) > 0.01]


def _x(rows: LedgerRows, x: float) -> float:
    return x / rows.signals["x_high"] * WIDTH_PX


def _y(rows: LedgerRows, y: float) -> float:
    return HEIGHT_PX * (1 - y / rows.signals["y_high"])


def _box(wide: float, high: float, *, left: float, middle: float) -> Box:
    return Box(left=left, top=middle - high / 2, right=left + wide, bottom=middle + high / 2)
