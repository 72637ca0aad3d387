"""A look makes the plan again: a slow jar is believed slow, events stay the same, and what is there is used."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.bring_back import bring_back
from fallow.plans.calendar import to_ics
from fallow.plans.replan import replan
from fallow.plans.standing import likelihood, rows_by_weight


@pytest.fixture(scope="module")
def plan():
    return bring_back(
        home_at="2026-05-15T19:00+02:00",
        mix_at="2026-05-17T09:00+02:00",
        places={"kitchen": 22, "warm box": 28},
        chance=0.8,
    )


def seen(plan, height, hours=7.0):
    at = plan.feeds["at"].iloc[0] + pd.Timedelta(hours=hours)
    return replan(plan, look_at=at, height=height, start_height=50, peak_height=100)


def test_a_low_jar_is_believed_to_owe_more_and_its_seed_is_taken_later(plan):
    low, high = seen(plan, 58), seen(plan, 98)
    assert low.course.source.owed_then.mean() > high.course.source.owed_then.mean()
    hours = np.array([0.0])
    assert np.median(low.course.source.past(hours)) < np.median(high.course.source.past(hours))
    assert low.feeds["at"].iloc[0] >= high.feeds["at"].iloc[0]


def test_the_belief_after_a_look_is_bayes_rule_on_the_draws():
    """Independent: normal density of log2 of the share around the doublings left, sd 0.5 (our choice)."""
    left = np.linspace(0, 4, 41)
    weights = likelihood(left=left, height=62.5, start_height=50, peak_height=100)
    density = norm.pdf(2.0, loc=left, scale=0.5)
    assert np.allclose(weights, density / density.sum())
    rows = rows_by_weight(weights, count=41)
    assert abs(left[rows].mean() - (weights * left).sum()) < 0.05


def test_a_look_says_what_the_jar_owed(plan):
    """Independent: Bayes' rule by hand on the plan's draws, earned = 7 h at the box's own warmth with its warming mix left out."""
    draws, first = plan.course.draws, plan.steps[0]
    place = plan.setting.places[first.place]
    rate = GAENZLE_1998_YEAST.per_hour(temp_c=place.day_c + draws.offsets_c[:, first.place]) / np.log(2)
    missed = (
        plan.course.kitchen.warming(place=first.place, mix_c=first.mix_c, hours=[7.0])[0] if first.mix_c > 0 else 0.0
    )
    left = first.log + draws.owed + draws.ripening - draws.pace * rate * 7.0 + missed
    for height in (58, 80):
        weights = norm.pdf(np.log2((height - 50) / 50), loc=-left, scale=0.5)
        order = np.argsort(draws.owed)
        middle = draws.owed[order][np.searchsorted(np.cumsum(weights[order]) / weights.sum(), 0.5)]
        assert seen(plan, height).owed_doublings.estimate == pytest.approx(middle, abs=0.05)
    before, low, high = plan.owed_doublings, seen(plan, 58).owed_doublings, seen(plan, 98).owed_doublings
    assert high.estimate < before.estimate < low.estimate
    assert low.high - low.low < before.high - before.low


def test_no_rise_and_full_rise_tell_one_side_only():
    left = np.array([0.0, 2.0, 6.0, 9.0])
    flat = likelihood(left=left, height=50, start_height=50, peak_height=100)
    assert flat[0] < 1e-6
    assert flat[2] == pytest.approx(flat[3], rel=1e-2)
    full = likelihood(left=left, height=104, start_height=50, peak_height=100)
    assert full[0] > 0.99


def test_feeds_keep_their_numbers_and_their_events(plan):
    again = seen(plan, 80)
    assert list(again.feeds["feed"]) == [2]
    assert again.revision == 1
    assert again.identity == plan.identity
    first, second = (to_ics(p, made_at="2026-05-01T00:00Z") for p in (plan, again))
    uid = f"{plan.identity}-feed-2@fallow"
    assert uid in first
    assert uid in second


def test_the_seed_of_the_next_feed_comes_from_the_jar_that_stands(plan):
    again = seen(plan, 80)
    assert again.feeds["seed_g"].iloc[0] <= plan.weighed[0].total_g - 5.0
    past = np.median(again.course.source.past(np.array([again.steps[0].at]))[0])
    assert -0.5 <= past <= 2.0


def test_nothing_more_to_feed_when_the_last_feed_stands_and_will_do(plan):
    last = plan.feeds["at"].iloc[-1] + pd.Timedelta(hours=9)
    again = replan(plan, look_at=last, height=90, start_height=50, peak_height=100)
    assert not len(again.feeds)
    assert again.reason == ""
    assert again.ready_chance >= 0.8
    assert "No more feeds" in again.sentence


def test_a_fallen_or_stuck_last_feed_says_why(plan):
    last = plan.feeds["at"].iloc[-1] + pd.Timedelta(hours=9)
    again = replan(plan, look_at=last, height=51, start_height=50, peak_height=100)
    assert again.ready_chance < 0.8
    assert again.reason


def test_a_wish_that_a_look_makes_impossible_has_a_nearest_plan_from_that_jar(plan):
    last = plan.feeds["at"].iloc[-1] + pd.Timedelta(hours=9)
    again = replan(plan, look_at=last, height=51, start_height=50, peak_height=100)
    near = again.nearest
    assert near is not None
    assert near.reason == ""
    assert near.ready_chance >= 0.8
    assert near.setting.mix > plan.setting.mix
    assert near.change.startswith("Dough at")
    assert near.setting.feeds_done == again.setting.feeds_done
    assert near.revision == again.revision == 1
    assert near.nearest is None


def test_a_warm_place_is_near_too_and_is_off_by_draws_of_its_own():
    cool = bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-16T22:00+02:00", places={"kitchen": 18}, chance=0.7
    )
    at = cool.feeds["at"].iloc[0] + pd.Timedelta(hours=11)
    again = replan(cool, look_at=at, height=62, start_height=50, peak_height=100)
    assert again.reason
    warm = [some for some in again.alternatives if "warm place" in some.change]
    assert len(warm) == 1
    assert "a warm place" in set(warm[0].feeds["place"])
    offsets = warm[0].course.draws.offsets_c
    assert offsets.shape[1] == 3
    assert abs(np.corrcoef(offsets.T)[0, 1]) < 0.2
    assert offsets[:, 1].std() == pytest.approx(offsets[:, 2].std(), rel=0.2)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"look_at": "2026-05-15T19:05+02:00"}, "between the first feed and the dough"),
        ({"look_at": "2026-05-18T09:00+02:00"}, "between the first feed and the dough"),
        ({"peak_height": 40}, "above start_height"),
        ({"height": 0}, "above zero"),
    ],
)
def test_a_look_that_means_nothing_is_refused(plan, changes, says):
    usual = {"look_at": plan.feeds["at"].iloc[0] + pd.Timedelta(hours=3), "height": 60, "start_height": 50}
    with pytest.raises(ValueError, match=says):
        replan(plan, **{**usual, **changes})
