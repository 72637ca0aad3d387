"""No hour of the day and no plan makes two words of a picture lie on one another."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest
from tests.charts.lettered import colliding
from tests.plans.cases import evenings_only, household

from fallow.charts.hold import hold_ledger
from fallow.charts.ledger_rows import Ledger, ledger_rows
from fallow.charts.ledger_tables import chain_ledger, nights
from fallow.charts.planned import moments, planned_feeds
from fallow.charts.time_axis import TimeAxis
from fallow.maths.feeds import Feed
from fallow.panels.one_jar.asked import Asked
from fallow.panels.one_jar.picture import ledger_of
from fallow.panels.one_jar.underway import Seen, Underway
from fallow.plans.bring_back import bring_back
from fallow.plans.draws import Carried, Culture
from fallow.plans.plan import BringBack
from fallow.plans.put_away import put_away

MIDNIGHT = pd.Timestamp("2026-11-26 00:22", tz="UTC")
HOURS = [MIDNIGHT + pd.Timedelta(hours=hour) for hour in range(24)]


def way_back(plan: BringBack) -> Ledger:
    axis = TimeAxis(start=plan.setting.start, hours=plan.setting.hours + 2)
    feeds, awake = planned_feeds(plan), plan.setting.awake
    asleep = nights(axis, asleep_from=awake.end, asleep_to=awake.start)
    return chain_ledger(feeds, axis=axis, asleep=asleep, moments=moments(plan, feeds, axis=axis))


def holidays(now: pd.Timestamp) -> Iterator[Ledger | None]:
    """One jar asked about before the holiday, with and without a warm box, and one being fed with a look written down."""
    for days, held_c, warm_c, dough in ((21, 5.2, None, 11), (14, 3.3, 28.0, 9), (4, 3.3, None, 18)):
        mix = (now + pd.Timedelta(days=days + 1)).normalize() + pd.Timedelta(hours=dough)
        fed = now - pd.Timedelta(hours=20)
        yield ledger_of(Asked(now=now, fed_at=fed, days_away=days, hold_temp_c=held_c, mix_at=mix, warm_c=warm_c))
    home = Asked(
        now=now,
        fed_at=now - pd.Timedelta(days=15, hours=3),
        days_away=14,
        hold_temp_c=3.3,
        mix_at=(now + pd.Timedelta(days=1)).normalize() + pd.Timedelta(hours=18),
        last_feed=Feed(seed_g=20, water_g=60, flours_g={"bread": 60}),
        put_away_at=now - pd.Timedelta(days=15),
        out_at=now - pd.Timedelta(hours=11),
    )
    given = (now - pd.Timedelta(hours=10.5), Feed(seed_g=20, water_g=20, flours_g={"bread": 20}))
    seen = Seen(at=now - pd.Timedelta(hours=1), height=62.5, start=30.0)
    yield Underway(asked=home, given=[given], looks=[seen], dough_ahead=True).ledger()


@pytest.mark.parametrize("now", HOURS, ids=lambda now: f"{now:%H:%M}")
def test_one_holiday_at_every_hour_of_the_day(now):
    drawn = [ledger for ledger in holidays(now) if ledger is not None]
    assert len(drawn) >= 2, "a wish that cannot be met has no picture"
    assert [hit for ledger in drawn for hit in colliding(ledger_rows(ledger))] == []


@pytest.mark.parametrize("now", HOURS[::3], ids=lambda now: f"{now:%H:%M}")
def test_a_hold_left_at_every_hour(now):
    for days, shelf in ((3, 5.2), (21, 3.3), (90, 1.9)):
        plan = put_away(leave_at=now, return_at=now + pd.Timedelta(days=days), fridge_temp_c=shelf, kitchen_temp_c=22)
        assert colliding(ledger_rows(hold_ledger(plan))) == []


def test_every_way_back_that_households_ask_for():
    plans = [bring_back(**household(number)) for number in range(30)]
    drawn = [way_back(plan) for plan in [*plans, evenings_only()] if plan.steps]
    assert len(drawn) > 10
    assert [hit for ledger in drawn for hit in colliding(ledger_rows(ledger))] == []


def test_a_culture_that_needs_many_feeds_has_a_narrow_slot_for_each():
    slow = Culture(carried=Carried(middle_logit=0.4, sd_logit=0.2))
    plans = [bring_back(**household(number, hours=(60, 90)), culture=slow) for number in range(12)]
    drawn = [way_back(plan) for plan in plans if len(plan.steps) >= 4]
    assert len(drawn) >= 3
    assert [hit for ledger in drawn for hit in colliding(ledger_rows(ledger))] == []
