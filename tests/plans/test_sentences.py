"""What a plan says on paper and page: forecast hours to ten minutes, acts to the minute, parts as a baker writes them."""

from __future__ import annotations

import re
from datetime import timedelta

import pandas as pd
import pytest

from fallow.maths.feeds import Feed
from fallow.plans.bring_back import bring_back
from fallow.plans.clock import after, hours_between, instant, ten_minutes
from fallow.plans.put_away import put_away
from fallow.plans.search import MOST_FEEDS_CARRIED
from fallow.plans.sentences import feeds_said, parts, ripe_between

ASKED = {"mix_at": "2026-05-17T09:00+02:00", "places": {"kitchen": 22, "warm box": 28}, "awake": ("06:50", "22:30")}


def test_forecast_hours_are_told_to_ten_minutes_and_acts_to_the_minute():
    plan = bring_back(home_at="2026-05-15T19:07+02:00", **ASKED)
    looks = [act for act in plan.acts if act.key.startswith("look")]
    assert len(looks) == len(plan.feeds) > 0
    for act, row in zip(looks, plan.feeds.to_dict("records"), strict=True):
        said = re.findall(r"\d\d:(\d\d)", act.text)
        assert len(said) == 3
        assert all(minute.endswith("0") for minute in said)
        assert f"{row['ripe_at'].round('10min'):%a %H:%M}" in act.text
    feeds = {act.key: act.at for act in plan.acts if act.key.startswith("feed")}
    assert list(feeds.values()) == list(plan.feeds["at"])


# Python's own datetime arithmetic is the oracle: the nearest multiple of ten minutes on the wall clock.
@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/St_Johns", "Asia/Kathmandu", "Australia/Lord_Howe"])
@pytest.mark.parametrize(
    "day", ["2026-03-29T00:00", "2026-10-25T00:00", "2026-11-01T00:00", "2026-04-05T00:00", "2026-10-04T00:00"]
)
def test_ten_minutes_hold_on_nights_when_the_clocks_change(zone, day):
    start = instant("start", day, time_zone=zone)
    for minutes in range(0, 6 * 60, 3):
        moment = after(start, minutes / 60)
        near = ten_minutes(moment)
        assert abs(hours_between(moment, near)) <= 5 / 60 + 1e-9
        assert near.minute % 10 == 0
        assert near.tzinfo == moment.tzinfo
        if near.utcoffset() == moment.utcoffset():
            wall = moment.to_pydatetime().replace(tzinfo=None) + timedelta(minutes=5)
            down = wall - timedelta(minutes=wall.minute % 10, seconds=wall.second)
            assert near.to_pydatetime().replace(tzinfo=None) == down


def test_a_feed_ripe_in_the_hour_the_clock_shows_twice_is_told():
    middle = instant("t", "2026-10-25T00:33Z", time_zone="Europe/Berlin")
    row = {"ripe_at": middle, "ripe_low": after(middle, -9), "ripe_high": after(middle, 3)}
    assert ripe_between(row) == "about Sun 02:30 (summer time) (Sat 17:30 to 04:30)"


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        (("2026-05-16T07:36+02:00", "2026-05-15T23:51+02:00", None), "about Sat 07:40 (Fri 23:50 to later)"),
        ((None, "2026-05-15T23:51+02:00", None), "not before Fri 23:50"),
        ((None, None, None), "later than this plan looks"),
    ],
)
def test_an_end_that_no_plan_sees_is_left_open(ends, said):
    row = dict(
        zip(
            ("ripe_at", "ripe_low", "ripe_high"),
            (pd.NaT if end is None else pd.Timestamp(end) for end in ends),
            strict=True,
        )
    )
    assert ripe_between(row) == said


@pytest.mark.parametrize(
    ("seed_g", "flour_g", "water_g", "said"),
    [
        (11, 100, 100, "about 1:9:9"),
        (20, 100, 100, "1:5:5"),
        (20, 100, 60, "1:5:3"),
        (30, 50, 50, "about 1:1.7:1.7"),
        (20, 50, 50, "1:2.5:2.5"),
        (16, 152, 153, "about 1:10:10"),
        (200, 100, 100, "1:0.5:0.5"),
    ],
)
def test_parts_are_written_as_a_baker_writes_them(seed_g, flour_g, water_g, said):
    assert parts(Feed(seed_g=seed_g, water_g=water_g, flours_g={"bread": flour_g})) == said


def test_every_number_of_feeds_a_plan_may_have_has_its_word():
    said = [feeds_said(count) for count in range(MOST_FEEDS_CARRIED + 1)]
    assert len(set(said)) == MOST_FEEDS_CARRIED + 1
    assert said[1] == "One feed"
    assert all(word.endswith(" feeds") for word in said[:1] + said[2:])


def test_a_put_away_plan_s_act_and_sentence_say_the_parts_and_its_grams_stay_exact():
    plan = put_away(
        leave_at="2026-05-01T18:00+02:00",
        return_at="2026-05-22T18:00+02:00",
        kitchen_temp_c=22,
        fridge_temp_c=4,
        flour_g=110,
        scale_g=1.0,
    )
    [act] = [act for act in plan.acts if act.key == "last feed"]
    assert act.title == f"Last feed before the cold, {parts(plan.feed)}"
    assert plan.sentence.startswith(f"Feed {parts(plan.feed)} ")
    assert not re.search(r"\d:\d+\.\d\d", act.title + plan.sentence)
    assert dict(act.weighed)["seed"] == plan.feed.seed_g
