"""A logger's temperatures: kept as read, gaps found and told, never bridged unless somebody says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import Array, kitchen_temperature, positive
from fallow.maths.profile import Profile


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A stretch without a reading that is longer than allowed."""

    from_hours: float
    to_hours: float

    @property
    def hours(self) -> float:
        """How long it is."""
        return self.to_hours - self.from_hours


@dataclass(frozen=True, kw_only=True)
class TemperatureLog:
    """Readings in order of time, with the gaps between them; made by ``read_log``."""

    hours: tuple[float, ...]
    temp_c: tuple[float, ...]
    longest_gap_hours: float
    gaps: tuple[Gap, ...]

    @property
    def missing_hours(self) -> float:
        """Hours inside gaps."""
        return sum(gap.hours for gap in self.gaps)

    @property
    def told(self) -> str:
        """The gaps in one sentence; empty when there is none."""
        if not self.gaps:
            return ""
        first = self.gaps[0]
        return (
            f"{len(self.gaps)} gap(s) over {self.longest_gap_hours:g} h, {self.missing_hours:g} h in all; "
            f"the first from {first.from_hours:g} to {first.to_hours:g} h."
        )

    def profile(self) -> Profile:
        """Return the history, straight between readings, or refuse it when there is a gap.

        >>> read_log(hours=[0, 1, 9], temp_c=[20, 21, 21], longest_gap_hours=2).profile()
        Traceback (most recent call last):
        ValueError: the log has 1 gap(s) over 2 h, 8 h in all; the first from 1 to 9 h. Call .bridged() to guess.
        """
        if self.gaps:
            message = f"the log has {self.told} Call .bridged() to guess."
            raise ValueError(message)
        return self.bridged()

    def bridged(self) -> Profile:
        """Return the history with a straight line across every gap: a guess, to be told beside what rests on it."""
        return Profile(hours=np.asarray(self.hours) - self.hours[0], temp_c=self.temp_c)


def read_log(*, hours: Sequence[object], temp_c: Sequence[object], longest_gap_hours: float) -> TemperatureLog:
    """Return a log from readings as they stand; a missing reading (None, empty, NaN) widens the gap around it.

    Nothing is filled in across a gap: our choice.

    Parameters
    ----------
    hours
        Hours of the readings, forwards, each once.
    temp_c
        degC, or None, an empty text or NaN where the logger has nothing.
    longest_gap_hours
        Time between two readings beyond which it is a gap (there is no usual value: a fridge may hide an open door).

    Raises
    ------
    ValueError
        On text that is no number, naming the reading; on time that runs backwards; on fewer than two readings; on
        empty ends.

    Examples
    --------
    >>> log = read_log(hours=[0, 0.5, 1, 1.5], temp_c=[5.5, None, "", 6.0], longest_gap_hours=1)
    >>> log.told
    '1 gap(s) over 1 h, 1.5 h in all; the first from 0 to 1.5 h.'
    """
    if len(hours) != len(temp_c):
        message = f"hours has {len(hours)} readings and temp_c {len(temp_c)}; they come in pairs. Give one for one."
        raise ValueError(message)
    when = np.array([_number("hours", at, value) for at, value in enumerate(hours, start=1)])
    temps = np.array([_number("temp_c", at, value) for at, value in enumerate(temp_c, start=1)])
    longest = float(positive("longest_gap_hours", longest_gap_hours))
    seen = ~np.isnan(temps)
    _check_times(when)
    if np.count_nonzero(seen) < 2:
        message = f"the log has {np.count_nonzero(seen)} readings; a history needs two or more. Log for longer."
        raise ValueError(message)
    if not (seen[0] and seen[-1]):
        message = "the log starts or ends with an empty reading; its ends need a temperature. Leave empty ends out."
        raise ValueError(message)
    kept, steps = when[seen], np.diff(when[seen])
    gaps = tuple(
        Gap(from_hours=float(kept[at]), to_hours=float(kept[at + 1]))
        for at in np.flatnonzero(steps > longest * (1 + 1e-9))
    )
    read = kitchen_temperature("temp_c", temps[seen])
    return TemperatureLog(hours=tuple(kept.tolist()), temp_c=tuple(read.tolist()), longest_gap_hours=longest, gaps=gaps)


def _number(name: str, at: int, value: object) -> float:
    if value is None or (isinstance(value, str) and not value.strip()):
        return float("nan")
    try:
        return float(str(value))
    except ValueError as error:
        message = f"reading {at} has {name} {str(value)[:30]!r}; it must be a number or empty. Mend or empty that cell."
        raise ValueError(message) from error


def _check_times(when: Array) -> None:
    if np.any(~np.isfinite(when)):
        at = int(np.argmax(~np.isfinite(when)))
        message = f"reading {at + 1} has no time; each reading needs its hour. Leave that reading out."
        raise ValueError(message)
    steps = np.diff(when)
    if np.any(steps <= 0):
        at = int(np.argmax(steps <= 0))
        message = (
            f"reading {at + 2} is at {when[at + 1]:g} h, not after {when[at]:g} h; time runs forwards. "
            "Put the readings in order, each hour once."
        )
        raise ValueError(message)
