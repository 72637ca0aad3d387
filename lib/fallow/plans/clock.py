"""Times of a plan: instants with an offset, hours between them, and the hours somebody is awake."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import numpy.typing as npt
import pandas as pd

Moment = str | dt.datetime | pd.Timestamp
_CLOCK = re.compile(r"([01]?\d|2[0-4]):([0-5]\d)")
_HOUR = pd.Timedelta(hours=1)


def instant(name: str, value: Moment, *, time_zone: str | None = None) -> pd.Timestamp:
    """Return one instant with its offset, or refuse a time that could mean two.

    Our choice. Takes ISO 8601 text, a datetime or a Timestamp; ``time_zone`` (IANA name) gives a time without offset
    its zone and shows any other time in that zone, so that clock changes are known.

    >>> instant("home_at", "2026-03-28T19:00", time_zone="Europe/Berlin").isoformat()
    '2026-03-28T19:00:00+01:00'
    >>> instant("home_at", "2026-03-28T19:00")
    Traceback (most recent call last):
    ValueError: home_at is 2026-03-28T19:00; it must carry its offset. Add it, as in +02:00, or name the time_zone.
    """
    stamp = _read(name, value)
    zone = _zone(time_zone)
    if stamp.tzinfo is not None:
        return stamp if zone is None else stamp.tz_convert(zone)
    if zone is None:
        message = (
            f"{name} is {stamp:%Y-%m-%dT%H:%M}; it must carry its offset. Add it, as in +02:00, or name the time_zone."
        )
        raise ValueError(message)
    return _localised(name, stamp, zone)


def hours_between(start: pd.Timestamp, end: pd.Timestamp) -> float:
    """Return the hours that truly pass between two instants, whatever the clocks on the wall do.

    >>> night = [instant("t", t, time_zone="Europe/Berlin") for t in ("2026-03-28T20:00", "2026-03-29T08:00")]
    >>> hours_between(*night)
    11.0
    """
    return float((end.tz_convert("UTC") - start.tz_convert("UTC")) / _HOUR)


def after(start: pd.Timestamp, hours: float) -> pd.Timestamp:
    """Return the instant ``hours`` after ``start``, to the nearest second, shown in the zone of ``start``."""
    moment = start.tz_convert("UTC") + pd.Timedelta(seconds=round(hours * 3600))
    return moment.tz_convert(start.tzinfo)


def next_half_hour(moment: pd.Timestamp) -> pd.Timestamp:
    """Return the first whole or half hour on the wall clock from ``moment`` on, across clock changes too.

    >>> next_half_hour(pd.Timestamp("2026-05-15T19:10+05:45")).isoformat()
    '2026-05-15T19:30:00+05:45'
    """
    past = (moment.minute % 30) * 60 + moment.second + moment.microsecond / 1e6
    return after(moment, (1800 - past) / 3600) if past else moment


def ten_minutes(moment: pd.Timestamp) -> pd.Timestamp:
    """Return the nearest ten minutes on the wall clock, across clock changes too: what a forecast may be told to.

    >>> night = instant("t", "2026-10-25T00:33Z", time_zone="Europe/Berlin")
    >>> ten_minutes(night).isoformat()
    '2026-10-25T02:30:00+02:00'
    """
    past = (moment.minute % 10) * 60 + moment.second + moment.microsecond / 1e6
    return after(moment, (-past if past < 300 else 600 - past) / 3600)


def day(moment: dt.datetime) -> str:
    """Return weekday, date and hour, as a kitchen says them.

    >>> day(pd.Timestamp("2026-05-16T07:40+02:00"))
    'Sat 16 May 07:40'
    """
    return f"{moment:%a} {moment.day} {moment:%b} {hour(moment)}"


def hour(moment: dt.datetime) -> str:
    """Return the hour on the wall clock; where the clocks go back and it comes twice, which of the two.

    >>> night = instant("t", "2026-10-25T00:30Z", time_zone="Europe/Berlin")
    >>> [hour(night + pd.Timedelta(hours=h)) for h in (-1, 0, 1, 2)]
    ['01:30', '02:30 (summer time)', '02:30 (winter time)', '03:30']
    """
    wall = dt.datetime(moment.year, moment.month, moment.day, moment.hour, moment.minute, tzinfo=moment.tzinfo)
    first, second = (wall.replace(fold=fold).utcoffset() for fold in (0, 1))
    if first is None or second is None or first <= second:
        return f"{moment:%H:%M}"
    return f"{moment:%H:%M} ({'summer' if moment.utcoffset() == first else 'winter'} time)"


def spell(hours: float) -> str:
    """Return a span in hours and minutes, to the minute.

    >>> spell(8.85), spell(2.0), spell(0.5)
    ('8 h 51 min', '2 h', '30 min')
    """
    whole, minutes = divmod(round(hours * 60), 60)
    return " ".join([f"{whole} h"] * bool(whole) + [f"{minutes} min"] * bool(minutes or not whole))


@dataclass(frozen=True, kw_only=True)
class Awake:
    """The hours of the day in which somebody can feed: from ``start`` to ``end`` on the kitchen's clock.

    Our choice. Both in hours since midnight; ``end`` before ``start`` runs past midnight; equal ends mean never awake.
    """

    start: float
    end: float

    @classmethod
    def read(cls, awake: tuple[str, str]) -> Awake:
        """Return waking hours from a pair of clock texts.

        >>> Awake.read(("07:00", "22:30"))
        Awake(start=7.0, end=22.5)
        """
        start, end = (_clock_hours(text) for text in awake)
        return cls(start=start, end=end)

    @property
    def never(self) -> bool:
        """Tell whether no hour of the day is left for feeding."""
        return self.start == self.end

    @property
    def hours_a_day(self) -> float:
        """Return how many hours of the day somebody is awake.

        >>> [Awake.read(awake).hours_a_day for awake in (("17:30", "23:00"), ("09:00", "01:00"), ("00:00", "24:00"))]
        [5.5, 16.0, 24.0]
        """
        return 0.0 if self.never else (self.end - self.start) % 24 or 24.0

    def holds(self, moments: pd.DatetimeIndex) -> npt.NDArray[np.bool_]:
        """Return for each instant whether its wall-clock hour lies within the waking hours, both ends included."""
        return self._within((moments.tz_localize(None).as_unit("s").asi8 % 86_400) / 3600)

    def holds_at(self, moment: pd.Timestamp) -> bool:
        """Return the same for one instant."""
        return bool(self._within(np.array([moment.hour * 3600 + moment.minute * 60 + moment.second]) / 3600)[0])

    def _within(self, hour: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        if self.never:
            return np.zeros(len(hour), dtype=bool)
        if self.start < self.end:
            return (hour >= self.start) & (hour <= self.end)
        return (hour >= self.start) | (hour <= self.end)


def moments(start: pd.Timestamp, hours: npt.ArrayLike) -> pd.DatetimeIndex:
    """Return the instants that lie ``hours`` after ``start``, in its zone."""
    seconds = np.round(np.asarray(hours, dtype=float) * 3600).astype("int64")
    return (start.tz_convert("UTC") + pd.to_timedelta(seconds, unit="s")).tz_convert(start.tzinfo)


def _read(name: str, value: Moment) -> pd.Timestamp:
    try:
        stamp = pd.Timestamp(value)
    except (ValueError, TypeError) as error:
        message = f"{name} is {value!r}; it must be a date and time. Write it as in 2026-05-16T10:30+02:00."
        raise ValueError(message) from error
    if pd.isna(stamp):
        message = f"{name} is empty; it must be a date and time. Write it as in 2026-05-16T10:30+02:00."
        raise ValueError(message)
    return stamp


def _zone(time_zone: str | None) -> ZoneInfo | None:
    if time_zone is None:
        return None
    try:
        return ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError) as error:
        message = f"time_zone is {time_zone!r}; it must be an IANA name. Write it as in Europe/Berlin."
        raise ValueError(message) from error


def _localised(name: str, stamp: pd.Timestamp, zone: ZoneInfo) -> pd.Timestamp:
    readings = {stamp.to_pydatetime().replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1)}
    first = stamp.to_pydatetime().replace(tzinfo=zone)
    if len(readings) == 1:
        return pd.Timestamp(first)
    back = first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None)
    trouble = "comes twice" if back == stamp.to_pydatetime() else "does not exist"
    message = (
        f"{name} is {stamp.isoformat()}; that hour {trouble} in {zone.key} because the clocks change. "
        f"Write the time with its offset."
    )
    raise ValueError(message)


def _clock_hours(text: str) -> float:
    found = _CLOCK.fullmatch(str(text).strip())
    hours = float(found[1]) + float(found[2]) / 60 if found else -1.0
    if not 0 <= hours <= 24:
        message = f"awake has {text!r}; it must be a time of day from 00:00 to 24:00. Write it as in 07:00."
        raise ValueError(message)
    return hours
