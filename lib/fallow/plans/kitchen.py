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
from fallow.plans.draws import Draws
from fallow.plans.places import Place
from fallow.plans.short_stay import short_stay_doublings

Array = npt.NDArray[np.float64]
BEYOND_HOURS = 48.0
_STEP_HOURS = 1 / 12
COLD_STEP_HOURS = 0.25
_WARMED_HOURS = 12.0


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
        middles = (np.arange(steps) + 0.5) * _STEP_HOURS
        day = np.ones(len(middles)) if awake.never else awake.holds(moments(start, middles)).astype(float)
        return cls(start=start, hours=hours, day_hours=np.concatenate([[0.0], np.cumsum(day) * _STEP_HOURS]))

    def day(self, hours: npt.ArrayLike) -> Array:
        """Return the day hours from the start until each hour."""
        lattice = np.arange(len(self.day_hours)) * _STEP_HOURS
        return np.asarray(np.interp(np.asarray(hours, dtype=float), lattice, self.day_hours))


@dataclass(frozen=True, kw_only=True)
class Kitchen:
    """Places over a span of hours under one curve; rates in doublings per hour, a row per place, a column per draw."""

    places: tuple[Place, ...]
    span: Span
    day_rates: Array
    night_rates: Array
    chilled: Array
    fridge_temp_c: float
    cooling_hours: float
    own_offsets_c: Array
    pace: Array
    chill: Array
    curve: Curve
    warmed: dict[tuple[int, float], Array] = field(default_factory=dict)

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
        day = np.stack([curve.per_hour(temp_c=p.day_c + own[i]) * speed for i, p in enumerate(places)])
        night = np.stack([curve.per_hour(temp_c=p.night_c + own[i]) * speed for i, p in enumerate(places)])
        chilled = np.stack(
            [
                _chilled(
                    place=p,
                    span=span,
                    curve=curve,
                    draws=draws,
                    fridge_temp_c=fridge_temp_c,
                    cooling_hours=cooling_hours,
                )
                for p in places
            ]
        )
        return cls(
            places=places,
            span=span,
            day_rates=day,
            night_rates=night,
            chilled=chilled,
            fridge_temp_c=fridge_temp_c,
            cooling_hours=cooling_hours,
            own_offsets_c=own,
            pace=draws.pace,
            chill=draws.chill,
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
        """Return the doublings earned in the cold, ``hours`` after the jar was carried there from ``place``."""
        asked = np.atleast_1d(np.asarray(hours, dtype=float)) / COLD_STEP_HOURS
        at = np.clip(asked.astype(int), 0, self.chilled.shape[1] - 2)
        share = (asked - at)[:, None]
        return np.asarray(self.chilled[place, at] * (1 - share) + self.chilled[place, at + 1] * share)

    def earned_chilled_roughly(self, *, place: int, hours: Array) -> npt.NDArray[np.float32]:
        """Return the same in single precision: each length of stay is looked up once."""
        lengths, at = np.unique(hours, return_inverse=True)
        return np.asarray(self.earned_chilled(place=place, hours=lengths).astype(np.float32)[at])

    def warming(self, *, place: int, mix_c: float, hours: npt.ArrayLike) -> Array:
        """Return the doublings that a mix of ``mix_c`` misses, ``hours`` after the feed, against one at the place's own.

        Derived: Newton warming with the jar's time constant; below zero for a mix warmer than its place.
        """
        asked = np.clip(np.atleast_1d(np.asarray(hours, dtype=float)), 0.0, _WARMED_HOURS) / COLD_STEP_HOURS
        if (place, mix_c) not in self.warmed:
            self.warmed[place, mix_c] = self._warming(place=place, mix_c=mix_c)
        table = self.warmed[place, mix_c]
        at = np.minimum(asked.astype(int), len(table) - 2)
        share = (asked - at)[:, None]
        return np.asarray(table[at] * (1 - share) + table[at + 1] * share)

    def _warming(self, *, place: int, mix_c: float) -> Array:
        """Return what a mix of ``mix_c`` misses, a row per quarter of an hour: kept, since a plan asks for it often."""
        hours = np.arange(0.0, _WARMED_HOURS + COLD_STEP_HOURS, COLD_STEP_HOURS)
        here = self.places[place].day_c
        offsets = self.own_offsets_c[place]
        warming = Profile.cooling(
            start_c=mix_c, ambient_c=here, time_constant_hours=self.cooling_hours, hours=float(hours[-1])
        )
        steady = Profile.constant(temp_c=here, hours=float(hours[-1]))
        earned = [_over_offsets(profile=p, curve=self.curve, offsets_c=offsets, hours=hours) for p in (steady, warming)]
        return np.asarray((earned[0] - earned[1]) * self.pace)

    def taken_by_cold(self, *, hours: npt.ArrayLike) -> Array:
        """Return the doublings that ``hours`` in the cold take: a row per stay, a column per draw."""
        return np.asarray(short_stay_doublings(hours=hours, temp_c=self.fridge_temp_c)[:, None] * self.chill)


def _chilled(
    *, place: Place, span: Span, curve: Curve, draws: Draws, fridge_temp_c: float, cooling_hours: float
) -> Array:
    """Return what cooling down and lying in the cold earn, a row per quarter of an hour, a column per draw.

    Derived: Newton cooling from the place's day temperature, integrated by the ledger at 21 offsets and read between
    them.
    """
    most = max(span.hours, 0.0) + BEYOND_HOURS
    when = np.arange(0.0, most, COLD_STEP_HOURS)
    profile = Profile.cooling(
        start_c=place.day_c, ambient_c=fridge_temp_c, time_constant_hours=cooling_hours, hours=float(when[-1])
    )
    return _over_offsets(profile=profile, curve=curve, offsets_c=draws.offsets_c[:, -1], hours=when) * draws.pace


def _over_offsets(*, profile: Profile, curve: Curve, offsets_c: Array, hours: Array) -> Array:
    """Return the doublings of a history by each hour (rows) for each offset (columns), read between 21 exact ones."""
    table = np.linspace(offsets_c.min() - 1e-6, offsets_c.max() + 1e-6, 21)
    made = earnings(profile=profile, curve=curve, offsets_c=table)
    row, asked = np.meshgrid(np.arange(len(table)), hours, indexing="ij")
    grid = made.until(hours=asked.ravel(), row=row.ravel()).reshape(row.shape)
    at = np.clip(np.searchsorted(table, offsets_c) - 1, 0, len(table) - 2)
    share = (offsets_c - table[at]) / (table[at + 1] - table[at])
    return np.asarray((grid[at] * (1 - share)[:, None] + grid[at + 1] * share[:, None]).T)
