"""A temperature history: straight lines and Newton cooling, kept in closed form and never sampled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fallow.maths.arguments import (
    FloatOrArray,
    Number,
    finite,
    kitchen_temperature,
    plain,
)
from fallow.maths.pieces import (
    SAME_INSTANT_HOURS,
    Piece,
    check_points,
    line,
    newton,
    sensible_hours,
    sensible_time_constant,
)


@dataclass(frozen=True, init=False, repr=False)
class Profile:
    """The temperature of the culture itself, from the mix (hour 0) on; straight between the points given.

    Parameters
    ----------
    hours
        Hours since the mix: first 0, never backwards. An hour given twice is a jump (moved elsewhere in no time).
    temp_c
        Temperatures in degC, -30 to 60.

    Raises
    ------
    ValueError
        When the hours run backwards or do not start at 0, on NaN, and on temperatures that no kitchen has.

    Examples
    --------
    >>> put_away = Profile(hours=[0, 3, 13], temp_c=[24, 4, 4])
    >>> put_away.total_hours, put_away.temp_c(hours=1.5)
    (13.0, 14.0)
    >>> put_away.then(Profile.constant(temp_c=28, hours=5)).total_hours
    18.0
    """

    pieces: tuple[Piece, ...] = field()

    def __init__(self, *, hours: npt.ArrayLike, temp_c: npt.ArrayLike) -> None:
        when, temps = finite("hours", hours), kitchen_temperature("temp_c", temp_c)
        sensible_hours("hours", when.max(initial=0.0))
        check_points(when, temps)
        pieces = tuple(
            line(start_c=float(temps[i]), end_c=float(temps[i + 1]), hours=float(step))
            for i, step in enumerate(np.diff(when))
            if step > SAME_INSTANT_HOURS
        )
        whole = pieces or (Piece(hours=0.0, base_c=float(temps[-1])),)
        object.__setattr__(self, "pieces", whole)

    @classmethod
    def constant(cls, *, temp_c: float, hours: float) -> Profile:
        """Return one temperature held for ``hours``.

        >>> Profile.constant(temp_c=26, hours=8).temp_c(hours=3)
        26.0
        """
        return cls(hours=[0.0, float(sensible_hours("hours", hours))], temp_c=[temp_c, temp_c])

    @classmethod
    def cooling(cls, *, start_c: float, ambient_c: float, time_constant_hours: float, hours: float) -> Profile:
        """Return Newton cooling (or warming): T = ambient + (start - ambient) exp(-t / time constant).

        Source: Newton's law of cooling. From 26 to 8 degC in a place of 4 degC takes 1.7047 time constants:

        >>> jar = Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=1, hours=24)
        >>> round(jar.temp_c(hours=1.7047), 3)
        8.0
        """
        return _of(
            (
                newton(
                    start_c=float(kitchen_temperature("start_c", start_c)),
                    ambient_c=float(kitchen_temperature("ambient_c", ambient_c)),
                    time_constant_hours=sensible_time_constant("time_constant_hours", time_constant_hours),
                    hours=float(sensible_hours("hours", hours)),
                ),
            )
        )

    @classmethod
    def through_places(
        cls, *, start_c: float, places_c: Sequence[float], hours: Sequence[float], time_constant_hours: float
    ) -> Profile:
        """Return a jar carried from place to place, drifting each time from where it was to the new place.

        Parameters
        ----------
        start_c
            Temperature of the mix.
        places_c, hours
            Each place's temperature and the hours spent there, in order.

        Examples
        --------
        >>> jar = Profile.through_places(start_c=24, places_c=[21, 4], hours=[3, 24], time_constant_hours=1.5)
        >>> round(jar.temp_c(hours=3), 2), round(jar.temp_c(hours=27), 2)
        (21.41, 4.0)
        """
        if len(places_c) != len(hours) or not len(hours):
            message = (
                f"places_c has {len(places_c)} entries and hours {len(hours)}; each place needs its hours. "
                "Give as many of the one as of the other, at least one."
            )
            raise ValueError(message)
        pieces: list[Piece] = []
        for place_c, stay_hours in zip(places_c, hours, strict=True):
            here = cls.cooling(
                start_c=start_c, ambient_c=place_c, time_constant_hours=time_constant_hours, hours=stay_hours
            )
            pieces += here.pieces
            start_c = here.pieces[-1].last_c
        return _of(tuple(pieces))

    def then(self, other: Profile) -> Profile:
        """Return this history with ``other`` after it; a difference in temperature between the two is a jump."""
        return _of(self.pieces + other.pieces)

    @property
    def total_hours(self) -> float:
        """Hours from the mix to the end."""
        return math.fsum(piece.hours for piece in self.pieces)

    @property
    def starts_hours(self) -> tuple[float, ...]:
        """Hour at which each piece starts."""
        ends = np.cumsum([0.0] + [piece.hours for piece in self.pieces])
        return tuple(float(end) for end in ends[:-1])

    def temp_c(self, *, hours: Number) -> FloatOrArray:
        """Return the temperature at ``hours`` since the mix (at a jump: the one after it).

        Raises
        ------
        ValueError
            When an hour lies outside the history; nothing is carried on beyond its end.
        """
        asked = finite("hours", hours)
        end = self.total_hours
        outside = (asked < 0) | (asked > end * (1 + 1e-12))
        if np.any(outside):
            seen = float(asked[outside].flat[0])
            message = (
                f"hours is {seen:g}; the profile runs from 0 to {end:g} h. Ask within it, or add to it with .then()."
            )
            raise ValueError(message)
        starts = np.asarray(self.starts_hours)
        which = np.searchsorted(starts, asked, side="right") - 1
        result = np.empty(asked.shape)
        for index, piece in enumerate(self.pieces):
            here = which == index
            result[here] = piece.temp_c(hours=asked[here] - starts[index])
        return plain(result)

    def range_c(self, *, until_hours: float) -> tuple[float, float]:
        """Return the coldest and the warmest temperature from the mix until an hour.

        >>> Profile(hours=[0, 3, 13], temp_c=[24, 4, 4]).range_c(until_hours=1.5)
        (14.0, 24.0)
        """
        seen = [float(self.temp_c(hours=until_hours))]
        for start, piece in zip(self.starts_hours, self.pieces, strict=True):
            if start < until_hours:
                seen += [piece.first_c, float(piece.temp_c(hours=min(piece.hours, until_hours - start)))]
        return min(seen), max(seen)

    def __repr__(self) -> str:
        ends = f"{self.pieces[0].first_c:g} to {self.pieces[-1].last_c:g} °C"
        return f"Profile({self.total_hours:g} h, {ends}, {len(self.pieces)} pieces)"


def _of(pieces: tuple[Piece, ...]) -> Profile:
    made = object.__new__(Profile)
    kept = tuple(piece for piece in pieces if piece.hours > 0)
    object.__setattr__(made, "pieces", kept or pieces[-1:])
    return made
