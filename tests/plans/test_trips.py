"""A feed that would be long past ripe waits in the cold: said, timed, carried by somebody awake, and reckoned by the ledger."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from icalendar import Calendar
from scipy.integrate import quad
from tests.plans.cases import EVENINGS as AT_NIGHT
from tests.plans.cases import evenings_only, household, taken_by_a_short_stay, truths

from fallow.maths.debt import cold_doublings
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.bring_back import bring_back
from fallow.plans.calendar import to_ics
from fallow.plans.replan import replan
from fallow.plans.search import search
from fallow.plans.sheet import kitchen_sheet_html
from fallow.plans.short_stay import short_stay_doublings

EVENINGS = {
    "home_at": "2026-05-15T18:00+02:00",
    "mix_at": "2026-05-17T21:00+02:00",
    "places": {"kitchen": 22, "warm box": 28},
    "awake": ("17:30", "22:30"),
}


EARLY = ("05:00", "07:30")


@pytest.fixture(scope="module")
def plan():
    return bring_back(**EVENINGS)


@pytest.fixture(scope="module")
def seed_waits():
    """A seed, and later the dough's starter, wait in the cold: one cool place, evenings only, a long rest."""
    return evenings_only()


def test_work_and_sleep_are_bridged_in_the_cold(plan):
    assert plan.reason == ""
    assert plan.trips == 1
    last = plan.feeds.iloc[-1]
    assert last["at"] < last["cold_at"] < plan.setting.mix
    assert 17.5 <= last["cold_at"].hour + last["cold_at"].minute / 60 <= 22.5
    assert last["look_at"] <= last["cold_at"]
    middle = np.median(plan.result.past[-1])
    assert -0.5 <= middle <= 2.0
    left_standing = tuple(replace(step, cold_at=np.inf) for step in plan.steps)
    assert plan.course.chance(left_standing) < 0.1
    assert search(plan.setting.problem(kitchen=plan.course.kitchen, draws=plan.course.draws), chance=0.9) is not None


def test_grams_add_up_with_a_trip_too(plan, seed_waits):
    for some in (plan, seed_waits):
        put_in = some.feeds["seed_g"].iloc[0] + some.feeds["water_g"].sum() + some.feeds["flour_g"].sum()
        assert put_in == pytest.approx(170 + 5.0 * len(some.feeds) + some.discard_g, abs=0.1)
        assert some.exact[-1].total_g - some.setting.wish.loss_g == pytest.approx(170, abs=0.1)


def test_the_cold_is_an_act_with_its_hours_in_calendar_and_sheet(plan):
    [cold] = [act for act in plan.acts if act.key.startswith("cold")]
    assert cold.key == f"cold {len(plan.feeds)}"
    assert cold.at == plan.feeds["cold_at"].iloc[-1]
    assert cold.title.endswith("to the cold until Sun 21:00")
    assert "creeps on" in cold.text
    assert "if it stops there" in cold.text
    dough = plan.acts[-1]
    assert "cold from the fridge" in dough.text
    events = {str(e["SUMMARY"]): e.start for e in Calendar.from_ical(to_ics(plan)).walk("VEVENT")}
    assert events[cold.title] == cold.at.tz_convert("UTC").to_pydatetime()
    assert cold.title in kitchen_sheet_html(plan)
    assert "(cold 22:30)" in plan.sentence
    assert len(plan.sentence.split()) <= 30
    assert any("thermometer on the jar's shelf" in line for line in plan.cautions)


def test_a_short_stay_takes_part_of_the_first_step_and_a_long_one_all_of_it():
    """Independent: the formula written out, k from McCaig and Bendiak 1985 (brewing yeast)."""
    for hours in (0.25, 8.0, 20.0, 24.0):
        assert short_stay_doublings(hours=hours, temp_c=4.0)[0] == pytest.approx(
            taken_by_a_short_stay(days=hours / 24, temp_c=4.0), rel=1e-3
        )
    assert short_stay_doublings(hours=0.0, temp_c=4.0)[0] == pytest.approx(0.0, abs=1e-12)
    assert short_stay_doublings(hours=24 * 21.0, temp_c=4.0)[0] == pytest.approx(cold_doublings(days=21, temp_c=4.0))


def test_what_a_chilled_feed_earns_is_the_cooling_jars_own(plan):
    """Independent: quadrature of the curve over Newton cooling from 28 degC to 4 degC, time constant 1.5 h."""
    step, kitchen = plan.steps[-1], plan.course.kitchen
    hours = plan.setting.hours - step.cold_at

    def rate(at: float) -> float:
        return float(GAENZLE_1998_YEAST.per_hour(temp_c=4 + 24 * math.exp(-at / 1.5))) / math.log(2)

    exact = quad(rate, 0, hours, limit=200)[0]
    drawn = kitchen.earned_chilled(place=step.place, hours=hours)[0]
    at_the_middle = np.abs(plan.course.draws.offsets_c[:, -1]) < 0.05
    assert np.median(drawn[at_the_middle] / plan.course.draws.pace[at_the_middle]) == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize("name", ["plan", "seed_waits"])
def test_the_chance_with_a_trip_comes_true_in_cultures_drawn_afresh(name, request):
    """Two errors together: of 4,000 random truths and of the plan's own 2,048 even draws (measured: at most 0.006)."""
    some = request.getfixturevalue(name)
    count = 4000
    seen = truths(plan=some, count=count, seed=77).mean()
    error = math.sqrt(some.ready_chance * (1 - some.ready_chance) / count)
    assert abs(seen - some.ready_chance) <= 3 * error + 0.006


def test_a_seed_may_wait_in_the_cold_and_comes_cold_to_its_feed(seed_waits):
    assert seed_waits.trips >= 1
    before = [n for n in range(len(seed_waits.feeds) - 1) if pd.notna(seed_waits.feeds["cold_at"].iloc[n])]
    for number in before:
        nxt = seed_waits.feeds["at"].iloc[number + 1]
        [act] = [act for act in seed_waits.acts if act.key == f"feed {number + 2}"]
        assert "cold from the fridge" in act.text
        assert nxt - seed_waits.feeds["cold_at"].iloc[number] <= pd.Timedelta(hours=24)
    past = np.median(seed_waits.result.past, axis=1)
    assert ((past >= -0.6) & (past <= 2.1)).all()


def test_what_the_cold_rests_on_is_said_once_and_ripe_as_far_as_it_can_be_seen(seed_waits):
    texts = [act.text for act in seed_waits.acts]
    assert sum("creeps on" in text for text in texts) == 1
    for row in seed_waits.feeds.itertuples():
        [look] = [act for act in seed_waits.acts if act.key == f"look {row.feed}"]
        if pd.isna(row.ripe_high):
            early = row.ripe_low.round("10min")
            assert f"{early:%a %H:%M}" in look.text or f"({early:%H:%M} to later)" in look.text
            assert ("not before" in look.text) == pd.isna(row.ripe_at)


@pytest.mark.parametrize("number", range(10))
def test_no_jar_is_carried_or_fed_by_somebody_asleep_and_acts_come_in_order(number):
    some = bring_back(**household(number, awake=(AT_NIGHT, EARLY), hours=(30, 50)))
    awake = some.setting.awake
    for row, until in zip(some.feeds.itertuples(), [*some.feeds["at"][1:], some.setting.mix], strict=True):
        assert row.at < until
        assert awake.holds(pd.DatetimeIndex([row.at]))[0]
        if pd.notna(row.cold_at):
            assert row.at < row.cold_at < until
            assert until - row.cold_at <= pd.Timedelta(hours=24)
            assert awake.holds(pd.DatetimeIndex([row.cold_at]))[0]
    assert [act.at for act in some.acts] == sorted(act.at for act in some.acts)
    assert sum(act.key.startswith("cold") for act in some.acts) == some.trips


def test_no_trip_means_no_other_story():
    some = bring_back(**{**EVENINGS, "awake": ("07:00", "22:30")})
    assert some.trips == 0
    assert some.ready_chance_by_stop == some.ready_chance
    assert some.feeds["cold_at"].isna().all()


def test_if_growth_stops_in_the_cold_a_young_jar_is_less_likely_ready():
    """One cool place only: the last feed goes to the cold young and needs what creep earns there."""
    some = bring_back(**{**EVENINGS, "places": {"kitchen": 24}, "mix_at": "2026-05-17T20:00+02:00"})
    assert some.trips == 1
    assert some.ready_chance_by_stop < some.ready_chance - 0.03


def seen(plan, at, height=92):
    return replan(plan, look_at=at, height=height, start_height=50, peak_height=100)


def test_a_look_before_the_trip_keeps_it_as_the_same_event(plan):
    last = plan.feeds.iloc[-1]
    again = seen(plan, last["cold_at"] - pd.Timedelta(minutes=30))
    assert again.reason == ""
    assert len(again.feeds) == 0
    assert pd.notna(again.standing_cold_at)
    assert "goes to the cold at Sat 22:30" in again.sentence
    assert any("thermometer on the jar's shelf" in line for line in again.cautions)
    assert {act.key for act in again.acts} == {f"cold {len(plan.feeds)}", "dough"}
    cancelled = [
        e for e in Calendar.from_ical(to_ics(again, replaces=plan)).walk("VEVENT") if e["STATUS"] == "CANCELLED"
    ]
    assert not any("dough" in str(e["UID"]) or "cold" in str(e["UID"]) for e in cancelled)


def test_a_look_at_a_jar_in_the_cold_knows_that_it_is_there(plan):
    last = plan.feeds.iloc[-1]
    again = seen(plan, last["cold_at"] + pd.Timedelta(hours=20), height=96)
    assert again.course.source.cold_at == pytest.approx(-20.0, abs=1e-3)
    hours = np.array([0.0, 2.0])
    grown = again.course.source.earned(hours)
    assert np.all(grown[1] - grown[0] < 0.3)
    assert again.ready_chance > 0.9
    assert "stays in the cold" in again.sentence


def test_a_second_look_at_the_same_feed_is_taken(plan):
    first = plan.feeds["at"].iloc[-1] + pd.Timedelta(hours=3)
    one = seen(plan, first, height=70)
    two = seen(one, first + pd.Timedelta(minutes=45), height=76)
    assert two.revision == 2
    assert two.identity == plan.identity
    assert two.setting.feeds_done == len(plan.feeds)
    with pytest.raises(ValueError, match="this plan has no feed to look at then"):
        seen(one, first - pd.Timedelta(hours=1))
