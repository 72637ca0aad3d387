"""What a jar earns in each place between two hours of a plan, for every draw at once."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.maths.cuts import Curve
from fallow.maths.earnings import earnings
from fallow.maths.profile import Profile
from fallow.plans.clock import Awake, hours_between, moments
from fallow.plans.draws import Draws, middles
from fallow.plans.places import Place
from fallow.plans.short_stay import short_stay_doublings

Array = npt.NDArray[np.float64]
BEYOND_HOURS = 48.0
_STEP_HOURS = 1 / 12
COLD_STEP_HOURS = 0.25
_WARMED_HOURS = 12.0
_OFFSETS = 21


@dataclass(frozen=True, kw_only=True)
class Span:
    """The hours of a plan, counted from ``start``, and how many of them were day; known until two days past the end."""

    start: pd.Timestamp
    hours: float
    day_hours: Array

    @classmethod
    def between(cls, *, start: pd.Timestamp, end: pd.Timestamp, awake: Awake) -> Span:
        """Return the span from ``start`` to ``end``; without waking hours all of it is day."""
        hours = hours_between(start, end)
        steps = int(np.ceil((max(hours, 0.0) + BEYOND_HOURS) / _STEP_HOURS))
        centres = (np.arange(steps) + 0.5) * _STEP_HOURS
        day = np.ones(len(centres)) if awake.never else awake.holds(moments(start, centres)).astype(float)
        return cls(start=start, hours=hours, day_hours=np.concatenate([[0.0], np.cumsum(day) * _STEP_HOURS]))

    def day(self, hours: npt.ArrayLike) -> Array:
        """Return the day hours from the start until each hour."""
        lattice = np.arange(len(self.day_hours)) * _STEP_HOURS
        return np.asarray(np.interp(np.asarray(hours, dtype=float), lattice, self.day_hours))


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What histories of a jar earn by each quarter of an hour (rows) at 21 temperature offsets, read between for each draw.

    ``weights`` turn the offsets' doublings into the draws', a column a draw, pace and all.
    """

    by_quarter: Array
    weights: Array

    def at(self, hours: npt.ArrayLike) -> Array:
        """Return the doublings by each hour: a row an hour, a column a draw."""
        asked = np.atleast_1d(np.asarray(hours, dtype=float)) / COLD_STEP_HOURS
        before = np.clip(asked.astype(int), 0, len(self.by_quarter) - 2)
        share = (asked - before)[:, None]
        return np.asarray((self.by_quarter[before] * (1 - share) + self.by_quarter[before + 1] * share) @ self.weights)


@dataclass(frozen=True, kw_only=True)
class Kitchen:
    """Places over a span of hours under one curve; rates in doublings per hour, a row per place, a column per draw.

    ``chilled``, ``warmed`` and ``middles_chilled`` keep what has been reckoned once: few plans ask for each place's way to the cold.
    """

    places: tuple[Place, ...]
    span: Span
    day_rates: Array
    night_rates: Array
    fridge_temp_c: float
    cooling_hours: float
    draws: Draws
    curve: Curve
    chilled: dict[int, Reading] = field(default_factory=dict)
    warmed: dict[tuple[int, float], Reading] = field(default_factory=dict)
    middles_chilled: dict[int, Array] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        *,
        places: tuple[Place, ...],
        span: Span,
        curve: Curve,
        draws: Draws,
        fridge_temp_c: float,
        cooling_hours: float,
    ) -> Kitchen:
        """Return the kitchen as the draws see it: each place off by its own draw, the fridge by the last one."""
        speed = draws.pace / np.log(2)
        own = draws.offsets_c.T
        return cls(
            places=places,
            span=span,
            day_rates=np.stack([curve.per_hour(temp_c=p.day_c + own[i]) * speed for i, p in enumerate(places)]),
            night_rates=np.stack([curve.per_hour(temp_c=p.night_c + own[i]) * speed for i, p in enumerate(places)]),
            fridge_temp_c=fridge_temp_c,
            cooling_hours=cooling_hours,
            draws=draws,
            curve=curve,
        )

    def earned(self, *, place: int, start: npt.ArrayLike, end: npt.ArrayLike) -> Array:
        """Return the doublings earned in ``place`` from each start to each end hour: a row a pair, a column a draw."""
        first, last = np.atleast_1d(np.asarray(start, dtype=float)), np.atleast_1d(np.asarray(end, dtype=float))
        day = self.span.day(last) - self.span.day(first)
        night = (last - first) - day
        return np.asarray(day[:, None] * self.day_rates[place] + night[:, None] * self.night_rates[place])

    def earned_roughly(self, *, place: int, start: Array, end: Array) -> npt.NDArray[np.float32]:
        """Return the same in single precision, which is what a search over thousands of pairs needs."""
        day = self.span.day(end) - self.span.day(start)
        night = (end - start) - day
        earned = day.astype(np.float32)[:, None] * self.day_rates[place].astype(np.float32)
        if np.any(night > 0):
            earned += night.astype(np.float32)[:, None] * self.night_rates[place].astype(np.float32)
        return np.asarray(earned)

    def earned_chilled(self, *, place: int, hours: npt.ArrayLike) -> Array:
        """Return the doublings earned in the cold, ``hours`` after the jar was carried there from ``place``.

        Derived: Newton cooling from the place's day temperature, integrated by the ledger.
        """
        if place not in self.chilled:
            most = max(self.span.hours, 0.0) + BEYOND_HOURS
            cooling = self._drifting(start_c=self.places[place].day_c, to_c=self.fridge_temp_c, hours=most)
            self.chilled[place] = self._reading([cooling], offsets_c=self.draws.offsets_c[:, -1])
        return self.chilled[place].at(hours)

    def middle_chilled(self, *, place: int, hours: Array) -> Array:
        """Return the middle of the draws of what ``earned_chilled`` tells, straight between quarters of an hour."""
        quarters = np.arange(0.0, self.span.hours + BEYOND_HOURS, COLD_STEP_HOURS)
        if place not in self.middles_chilled:
            self.middles_chilled[place] = middles(self.earned_chilled(place=place, hours=quarters))
        return np.asarray(np.interp(hours, quarters, self.middles_chilled[place]))

    def earned_chilled_roughly(self, *, place: int, hours: Array) -> npt.NDArray[np.float32]:
        """Return the same in single precision: each length of stay is looked up once."""
        lengths, at = np.unique(hours, return_inverse=True)
        return np.asarray(self.earned_chilled(place=place, hours=lengths).astype(np.float32)[at])

    def warming(self, *, place: int, mix_c: float, hours: npt.ArrayLike) -> Array:
        """Return the doublings that a mix of ``mix_c`` misses, ``hours`` after the feed, against one at the place's own.

        Derived: Newton warming with the jar's time constant; below zero for a mix warmer than its place.
        """
        if (place, mix_c) not in self.warmed:
            here = self.places[place].day_c
            steady = Profile.constant(temp_c=here, hours=_WARMED_HOURS)
            warming = self._drifting(start_c=mix_c, to_c=here, hours=_WARMED_HOURS)
            self.warmed[place, mix_c] = self._reading([steady, warming], offsets_c=self.draws.offsets_c[:, place])
        return self.warmed[place, mix_c].at(np.clip(np.asarray(hours, dtype=float), 0.0, _WARMED_HOURS))

    def _drifting(self, *, start_c: float, to_c: float, hours: float) -> Profile:
        return Profile.cooling(start_c=start_c, ambient_c=to_c, time_constant_hours=self.cooling_hours, hours=hours)

    def _reading(self, profiles: list[Profile], *, offsets_c: Array) -> Reading:
        """Return what a history earns, or a first more than a second; exact at the offsets, straight between them."""
        table = np.linspace(offsets_c.min() - 1e-6, offsets_c.max() + 1e-6, _OFFSETS)
        quarters = np.arange(0.0, profiles[0].total_hours + 1e-9, COLD_STEP_HOURS)
        row = np.arange(_OFFSETS)[None, :]
        made = [
            earnings(profile=profile, curve=self.curve, offsets_c=table).until(hours=quarters[:, None], row=row)
            for profile in profiles
        ]
        return Reading(
            by_quarter=made[0] if len(made) == 1 else made[0] - made[1],
            weights=_between(offsets_c, table=table) * self.draws.pace,
        )

    def taken_by_cold(self, *, hours: npt.ArrayLike) -> Array:
        """Return the doublings that ``hours`` in the cold take: a row per stay, a column per draw."""
        return np.asarray(short_stay_doublings(hours=hours, temp_c=self.fridge_temp_c)[:, None] * self.draws.chill)


def _between(values: Array, *, table: Array) -> Array:
    """Return the weights, a column a value, that read each value in a straight line between two of the table."""
    at = np.clip(np.searchsorted(table, values) - 1, 0, len(table) - 2)
    share, column = (values - table[at]) / (table[at + 1] - table[at]), np.arange(len(values))
    weights = np.zeros((len(table), len(values)))
    weights[at, column], weights[at + 1, column] = 1 - share, share
    return weights
