"""The clock along the bottom of a picture: hours drawn as they pass, with long stays in the cold folded short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.lettering import text_px

_STEPS_HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 72, 168)
_FOLD_SHARE = 0.16
_CLOCK_PX, _DAY_SIZE = 46, 13


@dataclass(frozen=True, kw_only=True)
class Fold:
    """A stretch drawn short: days in the cold, with the words that stand in it."""

    from_hours: float
    to_hours: float
    label: str


@dataclass(frozen=True, kw_only=True)
class TimeAxis:
    """Hours since ``start``, as the picture draws them.

    Parameters
    ----------
    start
        The instant of hour 0 on the kitchen's clock.
    hours
        Where the axis ends.
    folds
        Stretches drawn short, in order.
    dated
        Write days as dates; otherwise as day 1, day 2 (a bench where no date is meant).

    Examples
    --------
    >>> cold = Fold(from_hours=10, to_hours=490, label="20 days")
    >>> axis = TimeAxis(start=pd.Timestamp("2026-05-16 10:00"), hours=500, folds=(cold,))
    >>> [round(float(v), 1) for v in axis.drawn([0, 10, 490, 500])]
    [0.0, 10.0, 13.8, 23.8]
    """

    start: pd.Timestamp
    hours: float
    folds: tuple[Fold, ...] = ()
    dated: bool = True

    @property
    def _knots(self) -> tuple[list[float], list[float]]:
        plain = self.hours - sum(f.to_hours - f.from_hours for f in self.folds)
        folded = plain * _FOLD_SHARE / (1 - _FOLD_SHARE * len(self.folds))
        real, drawn = [0.0], [0.0]
        for fold in self.folds:
            for hour, length in ((fold.from_hours, fold.from_hours - real[-1]), (fold.to_hours, folded)):
                real.append(hour)
                drawn.append(drawn[-1] + length)
        return [*real, self.hours], [*drawn, drawn[-1] + self.hours - real[-1]]

    def drawn(self, hours: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Return where each hour stands, in drawn hours."""
        return np.interp(np.asarray(hours, dtype=float), *self._knots)

    @property
    def drawn_hours(self) -> float:
        """How long the axis is, in drawn hours."""
        return float(self._knots[1][-1])

    def clock(self, hours: float, *, minutes: int = 10) -> str:
        """Return the time of day at an hour, to the nearest ``minutes``.

        >>> TimeAxis(start=pd.Timestamp("2026-05-16 10:30"), hours=12).clock(10.04)
        '20:30'
        """
        return f"{(self.start + pd.Timedelta(hours=hours)).round(f'{minutes}min'):%H:%M}"

    def said(self, hours: float) -> str:
        """Return the time of day at an hour, or its date where it lies in a fold, where the hour would say too much.

        >>> cold = Fold(from_hours=10, to_hours=490, label="20 days")
        >>> TimeAxis(start=pd.Timestamp("2026-05-16 10:00"), hours=500, folds=(cold,)).said(100)
        'Wed 20 May'
        """
        return self._day(self.start + pd.Timedelta(hours=hours)) if self._folded(hours) else self.clock(hours)

    def ticks(self, *, width_px: float) -> list[dict[str, Any]]:
        """Return the ticks that fit: where they stand, the clock, and the day where it is new."""
        px_per_hour = width_px / self.drawn_hours
        step = next((s for s in _STEPS_HOURS if s * px_per_hour >= _CLOCK_PX), _STEPS_HOURS[-1])
        midnight = self.start.normalize()
        first = np.ceil((self.start - midnight) / pd.Timedelta(hours=step))
        rows: list[dict[str, Any]] = []
        last_px, last_day, last_day_px = -1e9, "", -1e9
        for k in range(int(first), int(first) + int(self.hours / step) + 2):
            moment = midnight + pd.Timedelta(hours=k * step)
            hour = (moment - self.start) / pd.Timedelta(hours=1)
            px = float(self.drawn(hour)) * px_per_hour
            if hour > self.hours or self._folded(hour) or px - last_px < _CLOCK_PX:
                continue
            day = self._day(moment)
            new = day != last_day and px - last_day_px >= text_px(day, size=_DAY_SIZE) + 8
            rows.append({"x": float(self.drawn(hour)), "clock": f"{moment:%H:%M}", "day": day if new else ""})
            last_px, last_day, last_day_px = px, day if new else last_day, px if new else last_day_px
        return rows

    def _folded(self, hour: float) -> bool:
        return any(fold.from_hours < hour < fold.to_hours for fold in self.folds)

    def _day(self, moment: pd.Timestamp) -> str:
        if not self.dated:
            return f"day {(moment.normalize() - self.start.normalize()).days + 1}"
        return f"{moment:%a} {moment.day} {moment:%b}"
