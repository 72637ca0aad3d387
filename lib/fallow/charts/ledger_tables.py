"""From a feed and its forecasts to the tables of the signature picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_rows import Ledger
from fallow.charts.time_axis import TimeAxis
from fallow.maths.cold import ColdScenario
from fallow.maths.draws import CultureDraws, intervals
from fallow.maths.feeds import Feed
from fallow.maths.forecast import RipeForecast, sour_band, sour_forecast, yeast_band, yeast_forecast
from fallow.maths.profile import Profile

POINTS = 80
Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class FeedOnClock:
    """One feed with everything the picture says of it.

    Parameters
    ----------
    name, place
        Words above it.
    at_hours, until_hours
        When it is given and when the next one is (or the picture ends), in hours on the picture's clock.
    profile
        The jar's temperature from this feed on; at least until ``until_hours``.
    """

    name: str
    at_hours: float
    until_hours: float
    feed: Feed
    place: str
    profile: Profile
    draws: CultureDraws
    cold: ColdScenario

    def yeast(self) -> RipeForecast:
        """Return when the yeast clock is ripe."""
        return yeast_forecast(dilution=self.feed.dilution, profile=self.profile, draws=self.draws, cold=self.cold)

    def sour(self) -> RipeForecast:
        """Return when the sour clock is ripe."""
        return sour_forecast(dilution=self.feed.dilution, profile=self.profile, draws=self.draws, cold=self.cold)


def grams_text(feed: Feed) -> str:
    """Return a feed's grams in one line.

    >>> grams_text(Feed(seed_g=14, water_g=49, flours_g={"bread": 49}))
    '14 g seed · 49 g flour · 49 g water'
    """
    return f"{feed.seed_g:.0f} g seed · {feed.flour_g:.0f} g flour · {feed.water_g:.0f} g water"


def feed_row(given: FeedOnClock, *, yeast: RipeForecast, sour: RipeForecast) -> dict[str, object]:
    """Return the row of ``Ledger.feeds`` for one feed; middles of the draws stand for what is needed."""
    at = given.at_hours
    return {
        "feed": given.name,
        "at_hours": at,
        "until_hours": given.until_hours,
        "dilution_doublings": given.feed.doublings,
        "owed_doublings": float(np.median(given.draws.owed_doublings)),
        "ripening_doublings": float(np.median(given.draws.ripening_doublings)),
        "grams": grams_text(given.feed),
        "place": given.place,
        "ripe_hours": at + yeast.hours,
        "ripe_low_hours": at + yeast.low_hours,
        "ripe_high_hours": at + yeast.high_hours,
        "sour_hours": at + sour.hours,
        "sour_doublings": given.feed.doublings + float(np.median(given.draws.lab_ripening_doublings)),
    }


def earned_rows(given: FeedOnClock, *, points: int = POINTS) -> pd.DataFrame:
    """Return the rows of ``Ledger.earned`` for one feed: medians of both clocks and the yeast's 90 % band."""
    hours = np.linspace(0.0, given.until_hours - given.at_hours, points)
    yeast = yeast_band(hours=hours, profile=given.profile, draws=given.draws, cold=given.cold)
    sour = sour_band(hours=hours, profile=given.profile, draws=given.draws, cold=given.cold)
    return pd.DataFrame(
        {
            "feed": given.name,
            "hours": given.at_hours + hours,
            "yeast": yeast.doublings,
            "yeast_low": yeast.low_doublings,
            "yeast_high": yeast.high_doublings,
            "sour": sour.doublings,
        }
    )


def earned_table(name: str, *, hours: Array, yeast: Array, sour: Array) -> pd.DataFrame:
    """Return the rows of ``Ledger.earned`` for one feed from what its draws earn: a row an hour, a column a draw.

    Medians of both clocks and the yeast's 90 % band.
    """
    low, middle, high = intervals(yeast)
    columns = {"hours": hours, "yeast": middle, "yeast_low": low, "yeast_high": high, "sour": intervals(sour)[1]}
    return pd.DataFrame({"feed": name, **columns})


class OnClock(Protocol):
    """A feed that can be drawn: on which hour of an axis it is given, and its rows of ``Ledger.feeds`` and ``Ledger.earned``."""

    def given_hours(self, axis: TimeAxis) -> float:
        """Return the hour on the axis at which it is given."""

    def row(self, *, axis: TimeAxis, until: float) -> dict[str, object]:
        """Return what it needs and when it is ripe; ``until`` is the hour of the next feed, or the end."""

    def earned(self, *, axis: TimeAxis, until: float) -> pd.DataFrame:
        """Return what it earns until then."""


def chain_ledger(feeds: Sequence[OnClock], *, axis: TimeAxis, asleep: pd.DataFrame, **more: pd.DataFrame) -> Ledger:
    """Return the tables of a picture of feeds that follow one another; ``more`` are further tables of ``Ledger``."""
    ends = [*(feed.given_hours(axis) for feed in feeds[1:]), axis.hours]
    pairs = list(zip(feeds, ends, strict=True))
    return Ledger(
        axis=axis,
        feeds=pd.DataFrame([feed.row(axis=axis, until=end) for feed, end in pairs]),
        earned=pd.concat([feed.earned(axis=axis, until=end) for feed, end in pairs]),
        asleep=asleep,
        **more,
    )


def shown_hours(hours: float, *, until: float) -> float:
    """Return an hour, or infinity where it lies beyond ``until``, so that no mark stands at an edge."""
    return hours if hours <= until else math.inf


def nights(axis: TimeAxis, *, asleep_from: float, asleep_to: float) -> pd.DataFrame:
    """Return the hours of every night on the axis, from one clock hour to another on the next morning.

    In a fold there is none: it would be a sliver that says nothing.

    >>> day = TimeAxis(start=pd.Timestamp("2026-05-16 20:00"), hours=24)
    >>> nights(day, asleep_from=22.5, asleep_to=7).values.tolist()
    [[2.5, 11.0]]
    """
    midnight = -(axis.start - axis.start.normalize()) / pd.Timedelta(hours=1)
    evenings = midnight + asleep_from % 24 + 24 * np.arange(-1, int(axis.hours // 24) + 2)
    mornings = evenings + (asleep_to - asleep_from) % 24
    ends = np.clip(np.column_stack([evenings, mornings]), 0, axis.hours)
    for fold in axis.folds:
        ends = np.concatenate([np.minimum(ends, fold.from_hours), np.maximum(ends, fold.to_hours)])
    return pd.DataFrame(np.unique(ends[ends[:, 1] > ends[:, 0]], axis=0), columns=["from_hours", "to_hours"])


def one_feed(given: FeedOnClock, *, axis: TimeAxis, asleep: pd.DataFrame) -> Ledger:
    """Return the tables of a picture with a single feed."""
    row = feed_row(given, yeast=given.yeast(), sour=given.sour())
    return Ledger(axis=axis, feeds=pd.DataFrame([row]), earned=earned_rows(given), asleep=asleep)
