"""What the four answers come to: the hold, what it takes, and the feeds that have the jar ready, without a widget."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from fallow.maths.arguments import not_negative
from fallow.maths.feeds import Feed
from fallow.maths.profile import Profile
from fallow.plans.bring_back import bring_back
from fallow.plans.clock import after, hours_between, next_half_hour
from fallow.plans.draws import Culture
from fallow.plans.hold import Hold, Owed
from fallow.plans.places import Warmth, cold_shelf
from fallow.plans.plan import BringBack
from fallow.plans.sentences import clock
from fallow.plans.setting import COOLING_HOURS, started

# Our choice, until the baker's own last feed is written down.
USUAL_FEED = Feed(seed_g=20, water_g=40, flours_g={"bread": 40})
LEAST_BENCH_HOURS = 1 / 60
GOOD_CHANCE = 0.8
# Our choice: in a kitchen of 20 degC three feeds take less than two and a half days, so none begins sooner.
SOONEST_HOURS, WARM_KITCHEN_C = 60.0, 20.0
# Our choice: nearer than this a date without its year is taken for the right one.
YEARLESS_DAYS = 183
# Our choice: four years, longer than anybody means a jar to rest and far beyond what was ever measured.
LONGEST_DAYS = 1500


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One holiday: the four answers, the rest at start values, and what the record knows better.

    Parameters
    ----------
    now
        The present instant in the kitchen's zone; no feed is planned before it.
    fed_at, days_away, hold_temp_c, mix_at
        The four answers: last fed, days in the cold, degC there, when dough is mixed.
    bench_hours
        From the last feed until it goes to the cold, unless ``put_away_at`` says it.
    put_away_at, out_at
        As recorded; None while not.
    """

    now: pd.Timestamp
    fed_at: pd.Timestamp
    days_away: float
    hold_temp_c: float
    mix_at: pd.Timestamp
    kitchen_c: float = 22.0
    warm_c: float | None = None
    bench_hours: float = 3.0
    ripe_g: float = 150.0
    keep_g: float = 20.0
    awake: tuple[str, str] = ("07:00", "22:30")
    last_feed: Feed = USUAL_FEED
    put_away_at: pd.Timestamp | None = None
    out_at: pd.Timestamp | None = None
    culture: Culture = field(default_factory=Culture)

    @property
    def chill_at(self) -> pd.Timestamp:
        """When the jar goes to the cold."""
        return after(self.fed_at, self.bench_hours) if self.put_away_at is None else self.put_away_at

    @property
    def bench_text(self) -> str:
        """How long it stands out after the last feed."""
        hours = hours_between(self.fed_at, self.chill_at)
        return f"{hours:.1f} h".replace(".0 h", " h")

    @cached_property
    def back_at(self) -> pd.Timestamp:
        """When feeding may begin: out of the cold as recorded, else after the days away, never before now."""
        if self.out_at is not None:
            return max(self.out_at, self.now)
        away = after(self.chill_at, 24 * float(not_negative("days_away", self.days_away)))
        return max(away, self.now)

    @cached_property
    def start(self) -> pd.Timestamp:
        """When the plan begins: back, but not days before it need be, for the jar keeps in the cold.

        Raises
        ------
        ValueError
            When the dough is wanted before the jar is back.
        """
        if hours_between(self.back_at, self.mix_at) <= 0:
            message = (
                f"The dough is wanted {said_day(self.mix_at, now=self.now)}, but the jar is not back before "
                f"{said_day(self.back_at, now=self.now)}. "
                "Give a later hour for the dough, or fewer days away."
            )
            raise ValueError(message)
        if self.kitchen_c >= WARM_KITCHEN_C:
            return max(self.back_at, next_half_hour(after(self.mix_at, -SOONEST_HOURS)))
        return started(home=self.back_at, mix=self.mix_at)

    @cached_property
    def days_held(self) -> float:
        """Days in the cold until feeding may begin.

        Raises
        ------
        ValueError
            When that is more than ``LONGEST_DAYS``.
        """
        days = max(0.0, hours_between(self.chill_at, self.start)) / 24
        if days > LONGEST_DAYS:
            message = (
                f"From the last feed, {said_day(self.fed_at, now=self.now)}, the jar would rest {days:.0f} days; this page "
                f"reckons with at most {LONGEST_DAYS}. Correct when it was last fed, or the hour of the dough."
            )
            raise ValueError(message)
        return days

    @cached_property
    def hold(self) -> Hold:
        """The last feed, its hours on the bench, its days in the cold."""
        bench = max(LEAST_BENCH_HOURS, hours_between(self.fed_at, self.chill_at))
        return Hold(
            feed=self.last_feed,
            warm=Profile.constant(temp_c=self.kitchen_c, hours=bench),
            fridge_temp_c=cold_shelf("fridge temperature", self.hold_temp_c),
            cooling_hours=COOLING_HOURS,
            days_cold=self.days_held,
            culture=self.culture,
            owed_before=0.0,
            seed=1,
        )

    @cached_property
    def owed(self) -> Owed:
        """What the jar owes on return, by creep."""
        return self.hold.owed()

    @property
    def places(self) -> dict[str, Warmth]:
        """Where it can stand."""
        kitchen: dict[str, Warmth] = {"kitchen": self.kitchen_c}
        return kitchen if self.warm_c is None else kitchen | {"warm place": self.warm_c}

    @cached_property
    def plan(self) -> BringBack:
        """The feeds that cost least and have the jar ready in nine of ten cases, or the likeliest there are."""
        return bring_back(
            home_at=self.start,
            mix_at=self.mix_at,
            ripe_g=self.ripe_g,
            keep_g=self.keep_g,
            places=self.places,
            awake=self.awake,
            hold_temp_c=self.hold_temp_c,
            owed=self.owed,
            culture=self.culture,
        )

    @property
    def fits(self) -> bool:
        """Whether at least eight of ten such jars would be ready."""
        return likely_enough(self.plan)


def likely_enough(plan: BringBack) -> bool:
    """Return whether at least eight of ten such jars would be ready."""
    return plan.ready_chance >= GOOD_CHANCE


def said_day(moment: pd.Timestamp, *, now: pd.Timestamp) -> str:
    """Return weekday, date and hour; the year too where it is half a year away or more.

    >>> now = pd.Timestamp("2026-12-01T08:00+01:00")
    >>> said_day(now + pd.Timedelta(days=17), now=now), said_day(now + pd.Timedelta(days=400), now=now)
    ('Fri 18 Dec 08:00', 'Wed 5 Jan 2028 08:00')
    """
    year = f" {moment.year}" if abs(hours_between(now, moment)) > 24 * YEARLESS_DAYS else ""
    return f"{moment:%a} {moment.day} {moment:%b}{year} {moment:%H:%M}"


def said_hour(moment: pd.Timestamp, *, beside: pd.Timestamp) -> str:
    """Return the hour, with its weekday where that is not the one ``beside`` it.

    >>> fed = pd.Timestamp("2026-12-18T08:00+01:00")
    >>> said_hour(fed + pd.Timedelta(hours=9), beside=fed), said_hour(fed + pd.Timedelta(hours=30), beside=fed)
    ('17:00', 'Sat 14:00')
    """
    return f"{moment:%H:%M}" if moment.date() == beside.date() else clock(moment)
