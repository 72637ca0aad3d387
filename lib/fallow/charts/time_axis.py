"""The clock along the bottom of a picture: hours drawn as they pass, with long stays in the cold folded short."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.lettering import text_px

_STEPS_HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 72, 168)
_FOLD_SHARE = 0.16
_STEPS_DAYS = (1, 2, 5, 7, 14, 28, 56, 91, 182, 364)
_CLOCK_PX, _DATE_PX, _END_PX, _DAY_SIZE = 46, 60, 75, 13
# Paper right of the grid; a day that begins at its edge is named as far left as its name needs.
RIGHT_PX = 26


@dataclass(frozen=True, kw_only=True)
class Fold:
    """A stretch drawn short: days in the cold, with the words that stand in it.

    ``share`` is its part of the picture's width; ``counted`` writes its days along the axis, counted from its start.
    """

    from_hours: float
    to_hours: float
    label: str
    share: float = _FOLD_SHARE
    counted: bool = False

    @property
    def days(self) -> float:
        """How long it is."""
        return (self.to_hours - self.from_hours) / 24


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

    @cached_property
    def _knots(self) -> tuple[list[float], list[float]]:
        plain = self.hours - sum(f.to_hours - f.from_hours for f in self.folds)
        whole = plain / (1 - sum(fold.share for fold in self.folds))
        real, drawn = [0.0], [0.0]
        for fold in self.folds:
            for hour, length in ((fold.from_hours, fold.from_hours - real[-1]), (fold.to_hours, whole * fold.share)):
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
        moment = self.start + pd.Timedelta(hours=hours)
        # An hour that the clock shows twice reads the same both times.
        return f"{moment.round(f'{minutes}min', ambiguous=True, nonexistent='shift_forward'):%H:%M}"

    def said(self, hours: float) -> str:
        """Return the time of day at an hour, or its date where it lies in a fold, where the hour would say too much.

        >>> cold = Fold(from_hours=10, to_hours=490, label="20 days")
        >>> TimeAxis(start=pd.Timestamp("2026-05-16 10:00"), hours=500, folds=(cold,)).said(100)
        'Wed 20 May'
        """
        return self._day(self.start + pd.Timedelta(hours=hours)) if self.folded(hours) else self.clock(hours)

    def said_briefly(self, hours: float) -> str:
        """Return the same, a date without its weekday in a fold and beyond the end: for the ends of an interval.

        >>> cold = Fold(from_hours=10, to_hours=490, label="20 days")
        >>> TimeAxis(start=pd.Timestamp("2026-05-16 10:00"), hours=500, folds=(cold,)).said_briefly(100)
        '20 May'
        """
        return self.date(hours) if self.dated and (self.folded(hours) or hours > self.hours) else self.said(hours)

    def date(self, hours: float) -> str:
        """Return the date of an hour, without its weekday."""
        moment = self.start + pd.Timedelta(hours=hours)
        return f"{moment.day} {moment:%b}"

    def folded(self, hour: float) -> bool:
        """Tell whether an hour lies in a stretch that is drawn short."""
        return any(fold.from_hours < hour < fold.to_hours for fold in self.folds)

    def ticks(self, *, width_px: float) -> list[dict[str, Any]]:
        """Return the ticks that fit: where they stand, the clock, and the day where it is new, with the middle of its name.

        In a counted fold they are days since its start, each with its date.
        """
        px_per_hour = width_px / self.drawn_hours
        rows = [tick for fold in self.folds if fold.counted for tick in self._days_of(fold, px_per_hour)]
        last_px, last_day, last_day_px = -1e9, "", -1e9
        for hour, moment in self._clock_hours(px_per_hour):
            px = float(self.drawn(hour)) * px_per_hour
            if px - last_px < _CLOCK_PX or self._near(px / px_per_hour, rows, px_per_hour):
                continue
            day = self._day(moment)
            wide = text_px(day, size=_DAY_SIZE)
            middle_px = min(px, width_px + RIGHT_PX - wide / 2)
            new = day != last_day and middle_px - last_day_px >= wide + 8
            named = {"day": day if new else "", "day_x": middle_px / px_per_hour}
            rows.append({"x": float(self.drawn(hour)), "clock": f"{moment:%H:%M}", **named})
            last_px, last_day, last_day_px = px, day if new else last_day, middle_px if new else last_day_px
        return sorted(rows, key=lambda row: float(row["x"]))

    def _clock_hours(self, px_per_hour: float) -> list[tuple[float, pd.Timestamp]]:
        step = next((s for s in _STEPS_HOURS if s * px_per_hour >= _CLOCK_PX), _STEPS_HOURS[-1])
        midnight = self.start.normalize()
        past = (self.start - midnight) / pd.Timedelta(hours=1)
        first = int(np.ceil(past / step))
        # Years in a fold hold thousands of hours, and none of them has a tick.
        hours = np.arange(first, first + int(self.hours / step) + 2) * step - past
        shown = hours <= self.hours
        for fold in self.folds:
            shown &= (hours <= fold.from_hours) | (hours >= fold.to_hours)
        return [(float(hour), midnight + pd.Timedelta(hours=float(hour + past))) for hour in hours[shown]]

    def _days_of(self, fold: Fold, px_per_hour: float) -> list[dict[str, Any]]:
        """Return ticks of whole days since a fold began, none so near its end that it would touch the clock there."""
        px_a_day = (float(self.drawn(fold.to_hours)) - float(self.drawn(fold.from_hours))) * px_per_hour / fold.days
        step = next((days for days in _STEPS_DAYS if days * px_a_day >= _DATE_PX), _STEPS_DAYS[-1])
        rows: list[dict[str, Any]] = []
        for day in range(step, int(np.ceil(fold.days)), step):
            if (fold.days - day) * px_a_day < _END_PX:
                break
            hour = fold.from_hours + 24 * day
            moment = self.start + pd.Timedelta(hours=hour)
            date = f"{moment.day} {moment:%b}"
            x = float(self.drawn(hour))
            rows.append({"x": x, "clock": f"day {day}", "day": date, "day_x": x})
        return rows

    def _near(self, x: float, rows: list[dict[str, Any]], px_per_hour: float) -> bool:
        return any(row["clock"].startswith("day") and abs(row["x"] - x) * px_per_hour < _DATE_PX for row in rows)

    def _day(self, moment: pd.Timestamp) -> str:
        if not self.dated:
            return f"day {(moment.normalize() - self.start.normalize()).days + 1}"
        return f"{moment:%a} {moment.day} {moment:%b}"
