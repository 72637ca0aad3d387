"""What days in the cold add to the signature picture: lines of another story, and whiskers of what is owed."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.time_axis import TimeAxis

Array = npt.NDArray[np.float64]


def story_rows(stories: pd.DataFrame, *, axis: TimeAxis, ceiling: float) -> list[dict[str, Any]]:
    """Return the points of every clock's line under another story about the cold, cut at the ceiling."""
    rows: list[dict[str, Any]] = []
    for (clock, story), part in stories.groupby(["clock", "story"], sort=False):
        line = np.column_stack(until(axis.drawn(part["hours"]), part["doublings"].to_numpy(dtype=float), ceiling))
        named = {"clock": f"{clock} clock", "story": story}
        rows += [{**named, "x": x, "y": y} for x, y in np.round(line, 4).tolist()]
    return rows


def span_rows(spans: pd.DataFrame, *, axis: TimeAxis, ceiling: float) -> list[dict[str, Any]]:
    """Return upright whiskers; one that is longer than the picture is high ends at the ceiling."""
    return [
        {
            "x": round(float(axis.drawn(span.hours)), 4),
            "middle": round(min(float(span.doublings), ceiling), 4),
            "y": round(float(span.low), 4),
            "y2": round(min(float(span.high), ceiling), 4),
        }
        for span in spans.itertuples()
    ]


def until(x: Array, y: Array, ceiling: float) -> tuple[Array, Array]:
    """Cut a rising line where it meets the ceiling.

    >>> xs, ys = until(np.array([0.0, 2.0, 4.0]), np.array([0.0, 2.0, 4.0]), 3.0)
    >>> xs.tolist(), ys.tolist()
    ([0.0, 2.0, 3.0], [0.0, 2.0, 3.0])
    """
    over = np.flatnonzero(y > ceiling)
    if not len(over) or over[0] == 0:
        return x, np.minimum(y, ceiling)
    k = int(over[0])
    share = (ceiling - y[k - 1]) / (y[k] - y[k - 1])
    return np.append(x[:k], x[k - 1] + share * (x[k] - x[k - 1])), np.append(y[:k], ceiling)
