"""A jar whose keeper is back before it is ripe is left on the bench, or left to finish; the cold asks for nothing it did not take."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import gamma

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.clock import hours_between
from fallow.plans.draws import Carried, Culture
from fallow.plans.put_away import put_away

LEAVE = "2026-05-01T18:00+02:00"


def away(back, **changes):
    return put_away(
        **{"leave_at": LEAVE, "return_at": back, "kitchen_temp_c": 22, "fridge_temp_c": 4, "scale_g": 1, **changes}
    )


def per_hour(temp_c):
    return GAENZLE_1998_YEAST.per_hour(temp_c=temp_c) / math.log(2)


def test_an_hour_away_needs_no_cold_and_names_when_the_bench_ripens_it():
    plan = away("2026-05-01T19:00+02:00")
    bench = plan.on_bench
    ripe_hours = hours_between(plan.feed_at, bench.ripe_at)
    assert ripe_hours == pytest.approx((math.log2(plan.feed.dilution) + 1.4) / per_hour(22.0), abs=0.2)
    assert bench.ripe_low < bench.ripe_at < bench.ripe_high
    assert bench.ripe_at > plan.return_at
    assert plan.finish is None
    assert plan.reason == ""


def test_on_the_bench_no_act_chills_the_jar():
    plan = away("2026-05-01T19:00+02:00")
    assert [act.key for act in plan.acts] == ["last feed", "back"]
    assert "no cold" in plan.acts[0].text
    assert plan.on_bench.ripe in plan.acts[1].text


def test_away_until_the_bench_would_have_ripened_it_the_cold_is_needed():
    plan = away("2026-05-01T19:00+02:00")
    ripe = plan.on_bench.ripe_at
    assert away(ripe - np.timedelta64(10, "m")).on_bench is not None
    assert away(ripe + np.timedelta64(10, "m")).on_bench is None


@pytest.mark.parametrize("hours", [1, 6, 12])
def test_some_hours_in_the_cold_do_not_cost_a_doubling(hours):
    """Our choice (plans.short_stay): the first step of 0.7 comes in over a day."""
    plan = away(f"2026-05-0{1 + (18 + hours) // 24}T{(18 + hours) % 24:02d}:00+02:00")
    step = 0.7 * (1 - math.exp(-hours / 24)) + 0.0121 * 6.2**0.3 * hours / 24
    assert plan.owed_doublings.cold_doublings == pytest.approx(step / math.log(2), rel=1e-6)


def test_what_is_left_of_the_rise_agrees_with_a_solver_of_the_jar_carried_out_and_home():
    """Independent: solve_ivp on dE/dt = mu(T)/ln 2, dT/dt = (place - T)/1.5, through bench, fridge and kitchen."""
    plan = away("2026-05-04T18:00+02:00")
    warm, cold = hours_between(plan.feed_at, plan.chill_at), hours_between(plan.chill_at, plan.return_at)
    taken = (0.7 * (1 - math.exp(-cold / 24)) + 0.0121 * 6.2**0.3 * cold / 24) / math.log(2)
    need = math.log2(plan.feed.dilution) + 1.4 + taken * gamma.ppf(0.5, 4) / 4

    def slope(_, y, place):
        return [per_hour(y[1]), (place - y[1]) / 1.5]

    def ripe(_, y, place):
        return y[0] - need

    ripe.terminal = True
    start = [warm * per_hour(22.0), 22.0]
    chilled = solve_ivp(slope, (0, cold), start, args=(4.0,), rtol=1e-8, max_step=1.0).y[:, -1]
    home = solve_ivp(slope, (0, 100), chilled, args=(22.0,), events=ripe, rtol=1e-8, max_step=1.0)
    assert plan.finish.hours == pytest.approx(home.t_events[0][0], abs=0.2)
    assert plan.finish.low_hours < plan.finish.hours < plan.finish.high_hours
    assert plan.finish.stop_hours > plan.finish.hours


def test_a_jar_ripe_in_the_cold_has_nothing_to_finish():
    plan = away("2026-05-29T18:00+02:00")
    assert plan.days_to_ripe_in_cold["yeast", "creep"] < plan.days_held
    assert plan.finish is None
    assert plan.on_bench is None


def test_a_kitchen_colder_by_night_takes_longer_to_finish():
    assert away("2026-05-04T18:00+02:00", kitchen_temp_c=(22, 16)).finish.hours > (
        away("2026-05-04T18:00+02:00").finish.hours + 1
    )


def test_a_rise_left_to_finish_is_one_feed_and_a_share_carried_over_it_is_counted():
    back = "2026-05-04T18:00+02:00"
    assert away(back).likely_feeds["feeds"].iloc[0] == 1
    carried = Culture(carried=Carried(middle_logit=1.4, sd_logit=0.3))
    assert away(back, culture=carried).likely_feeds["feeds"].iloc[0] > 1


def test_on_return_the_act_is_to_let_the_rise_finish_and_the_sentence_says_so():
    plan = away("2026-05-04T18:00+02:00")
    assert plan.acts[-1].title == "Back: let it finish its rise"
    assert str(plan.finish) in plan.acts[-1].text
    assert str(plan.finish) in plan.sentence
    assert away("2026-05-29T18:00+02:00").acts[-1].title == "Back: plan the feeds"


@pytest.mark.parametrize("back", ["2026-05-01T19:00+02:00", "2026-05-04T18:00+02:00"])
def test_the_sentence_of_a_short_stay_is_short_and_names_no_date_in_the_cold(back):
    plan = away(back)
    assert len(plan.sentence.split()) <= 30
    assert "there after about" not in plan.sentence
