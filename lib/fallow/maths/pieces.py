"""Stretches of a temperature history, each with a closed form, so that nothing has to be sampled in time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import Array, Number, not_negative, positive

SAME_INSTANT_HOURS = 1e-9
LONGEST_HOURS = 1e6


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One stretch on which the temperature only rises, only falls, or stands still.

    T(u) = base_c + slope_c_per_hour * u + excess_c * exp(-u / time_constant_hours), u hours since the stretch began.
    A straight line has no excess, Newton cooling no slope (derived).
    """

    hours: float
    base_c: float
    slope_c_per_hour: float = 0.0
    excess_c: float = 0.0
    time_constant_hours: float = 1.0

    def temp_c(self, *, hours: float | Array) -> Array:
        """Return the temperature ``hours`` after the stretch began.

        >>> float(newton(start_c=26, ambient_c=4, time_constant_hours=2, hours=24).temp_c(hours=2 * 1.704748092))
        8.000000000...
        """
        since = np.asarray(hours, dtype=float)
        return np.asarray(
            self.base_c + self.slope_c_per_hour * since + self.excess_c * np.exp(-since / self.time_constant_hours)
        )

    @property
    def first_c(self) -> float:
        """Temperature at the start."""
        return self.base_c + self.excess_c

    @property
    def last_c(self) -> float:
        """Temperature at the end."""
        return float(self.temp_c(hours=self.hours))

    def hours_at(self, *, temp_c: Array) -> Array:
        """Return when each temperature is passed, in hours since the stretch began; NaN where it is never passed."""
        wanted = np.asarray(temp_c, dtype=float) - self.base_c
        with np.errstate(over="ignore"):  # never passed, however far away
            if self.slope_c_per_hour:
                when = wanted / self.slope_c_per_hour
            elif self.excess_c:
                share = wanted / self.excess_c
                when = -self.time_constant_hours * np.log(np.where(share > 0, share, np.nan))
            else:
                when = np.full_like(wanted, np.nan)
        return np.asarray(np.where((when > 0) & (when < self.hours), when, np.nan))


def line(*, start_c: float, end_c: float, hours: float) -> Piece:
    """Return a straight line from one temperature to another.

    >>> float(line(start_c=24, end_c=4, hours=10).temp_c(hours=5))
    14.0
    """
    return Piece(hours=hours, base_c=start_c, slope_c_per_hour=(end_c - start_c) / hours if hours else 0.0)


def newton(*, start_c: float, ambient_c: float, time_constant_hours: float, hours: float) -> Piece:
    """Return Newton cooling (or warming) towards the surroundings.

    T(t) = ambient + (start - ambient) exp(-t / time constant)   (Newton's law of cooling).

    >>> round(newton(start_c=26, ambient_c=4, time_constant_hours=2, hours=24).last_c, 4)
    4.0001
    """
    return Piece(hours=hours, base_c=ambient_c, excess_c=start_c - ambient_c, time_constant_hours=time_constant_hours)


def split_hours(piece: Piece) -> tuple[float, ...]:
    """Return where to cut a stretch so that a low polynomial in time follows it.

    Our choice: straight lines every 8 degC; Newton pieces at 2, 5, 9, 14, 20, 28 and 40 time constants, after which the
    temperature has arrived to the last digit of a float.
    """
    if piece.excess_c:
        cuts = np.array([2.0, 5.0, 9.0, 14.0, 20.0, 28.0, 40.0]) * piece.time_constant_hours
        return (0.0, *(float(cut) for cut in cuts[cuts < piece.hours]), piece.hours)
    count = max(1, math.ceil(abs(piece.slope_c_per_hour) * piece.hours / 8.0))
    return tuple(float(cut) for cut in np.linspace(0.0, piece.hours, count + 1))


def check_points(hours: Array, temp_c: Array) -> None:
    """Refuse points that make no history: not in pairs, too few, not from the mix on, or backwards in time."""
    if hours.ndim != 1 or hours.shape != temp_c.shape or hours.size < 2:
        message = (
            f"hours has {hours.size} points and temp_c {temp_c.size}; a profile needs two or more of each, in pairs. "
            "Give one temperature for each hour, or use Profile.constant."
        )
        raise ValueError(message)
    if hours[0] != 0:
        message = f"hours starts at {hours[0]:g}; a profile starts at hour 0, the mix. Count the hours from the mix."
        raise ValueError(message)
    steps = np.diff(hours)
    at_once = steps <= SAME_INSTANT_HOURS
    thrice = np.flatnonzero(at_once[1:] & at_once[:-1] & (steps[1:] >= 0) & (steps[:-1] >= 0))
    if thrice.size:
        message = (
            f"hours has {hours[thrice[0]]:g} three times; a jump takes two points. Leave the one between them out."
        )
        raise ValueError(message)
    if np.any(steps < 0):
        at = int(np.argmax(steps < 0))
        message = (
            f"hours goes from {hours[at]:g} back to {hours[at + 1]:g}; time runs forwards. "
            "Put the points in order of time."
        )
        raise ValueError(message)


def sensible_hours(name: str, hours: Number) -> Array:
    """Return hours of zero or more that a jar may stand, up to a million (114 years; our choice), or refuse.

    >>> sensible_hours("hours", 1e9)
    Traceback (most recent call last):
    ValueError: hours is 1e+09; a history has at most 1e+06 hours. Check the unit.
    """
    value = not_negative(name, hours)
    if np.any(value > LONGEST_HOURS):
        message = f"{name} is {value.max():g}; a history has at most {LONGEST_HOURS:g} hours. Check the unit."
        raise ValueError(message)
    return value


def sensible_time_constant(name: str, hours: Number) -> float:
    """Return a time constant from 0.001 to 10000 h (our choice), or refuse.

    >>> sensible_time_constant("time_constant_hours", 1e-9)
    Traceback (most recent call last):
    ValueError: time_constant_hours is 1e-09; a jar has 0.001 to 10000 hours. Check the unit.
    """
    value = float(positive(name, hours))
    if not 1e-3 <= value <= 1e4:
        message = f"{name} is {value:g}; a jar has 0.001 to 10000 hours. Check the unit."
        raise ValueError(message)
    return value
