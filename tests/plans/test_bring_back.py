"""A bring-back plan keeps its promises: grams add up, nobody feeds asleep, seeds are ripe, wishes that fail say why."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.plans.cases import taken_by_a_short_stay

from fallow.maths.debt import cold_doublings
from fallow.plans.bring_back import bring_back
from fallow.plans.put_away import put_away
from fallow.plans.short_stay import rest_doublings

PLACES = {"kitchen": 22, "warm box": 28}
HOME = "2026-05-15T19:00+02:00"


def usual(**changes):
    return bring_back(**{"home_at": HOME, "mix_at": "2026-05-17T09:00+02:00", "places": PLACES, **changes})


@pytest.fixture(scope="module")
def plan():
    return usual()


def test_the_contracts_columns_are_there(plan):
    wanted = [
        "feed",
        "at",
        "place",
        "seed_g",
        "water_g",
        "flour_g",
        "water_temp_c",
        "dilution",
        "look_at",
        "ripe_at",
        "ripe_low",
        "ripe_high",
    ]
    assert set(wanted) <= set(plan.feeds.columns)
    assert plan.reason == ""
    assert plan.nearest is None
    assert plan.ready_chance >= 0.9


def test_two_feeds_within_a_day_bring_back_one_to_four_weeks_at_three_to_five_degrees():
    """Trade fact (common practice, no source): with a warm place, two feeds within about 24 hours."""
    for days in (7, 14, 21, 28):
        for cold in (3, 5):
            some = usual(home_at="2026-05-16T09:00+02:00", days_held=days, hold_temp_c=cold)
            assert some.reason == "", (days, cold)
            assert len(some.feeds) == 2


def test_grams_before_rounding_leave_what_is_wanted_and_kept(plan):
    last = plan.exact[-1]
    assert last.total_g - plan.setting.wish.loss_g == pytest.approx(170, abs=0.1)
    for before, after in zip(plan.exact, plan.exact[1:], strict=False):
        assert before.total_g >= after.seed_g + plan.setting.wish.loss_g - 0.1


@pytest.mark.parametrize("scale_g", [0.1, 1.0, 5.0])
def test_every_gram_on_the_scale_is_accounted_for(scale_g):
    some = usual(scale_g=scale_g, ripe_g=240)
    steps = np.concatenate([some.feeds[name] for name in ("seed_g", "water_g", "bread_g", "rye_g")]) / scale_g
    assert np.allclose(steps, np.round(steps), atol=1e-6)
    assert (some.feeds["seed_g"] >= 10 * scale_g).all()
    put_in = some.feeds["seed_g"].iloc[0] + some.feeds["water_g"].sum() + some.feeds["flour_g"].sum()
    losses = 5.0 * len(some.feeds)
    assert put_in == pytest.approx(240 + 20 + losses + some.discard_g, abs=0.1)
    assert some.discard_g >= 0


def test_nobody_feeds_asleep_and_water_stays_below_35(plan):
    for days in (7, 56):
        some = usual(days_held=days, awake=("09:15", "20:00"))
        hours = some.feeds["at"].dt.hour + some.feeds["at"].dt.minute / 60
        assert hours.between(9.25, 20.0).all()
    assert (plan.feeds["water_temp_c"] <= 35.0).all()


def test_seed_is_taken_from_half_a_doubling_before_ripe_to_two_after():
    some = usual(days_held=28)
    past = np.median(some.result.past[:-1], axis=1)
    assert (past >= -0.5 - 0.1).all()
    assert (past <= 2.0 + 0.1).all()


def test_rounding_is_shown_with_its_effect(plan):
    shown = plan.rounding
    assert list(shown["seed_g"]) == list(plan.feeds["seed_g"])
    assert shown["doublings_moved"].abs().max() < 0.2
    assert abs(plan.chance_before_rounding - plan.ready_chance) < 0.05


def test_the_latest_hour_still_gives_eight_in_ten_and_is_a_waking_one(plan):
    assert (plan.feeds["latest"] >= plan.feeds["at"]).all()
    hours = plan.feeds["latest"].dt.hour
    assert hours.between(7, 22).all()


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (
            {"mix_at": "2026-05-15T21:00+02:00", "days_held": 56},
            "In 2 h the likeliest plan is ready in fewer than 1 of 100 jars, not the 90 wanted",
        ),
        ({"mix_at": "2026-05-16T02:20+02:00", "days_held": 120}, "what the cold took is not repaid in time."),
        ({"awake": ("07:00", "07:00")}, "nobody can feed"),
        ({"home_at": "2026-05-15T23:00+02:00", "mix_at": "2026-05-16T06:00+02:00"}, "Nobody is awake"),
        ({"flours": {}}, "no flour"),
        ({"flour_on_hand_g": 40}, "g of flour and there are 40 g"),
        ({"flour_on_hand_g": 0}, "g of flour and there are 0 g"),
        ({"flour_on_hand_g": 0, "mix_at": "2026-05-15T21:00+02:00"}, "not the 90 wanted"),
        ({"jar_g": 4}, "cannot become"),
    ],
)
def test_an_impossible_wish_says_why_and_what_is_near(changes, says):
    some = usual(**changes)
    assert says in some.reason
    assert len(some.reason.split()) <= 30
    if "jar_g" not in changes:
        assert some.nearest.reason == ""
        assert some.nearest.change
        assert some.nearest.ready_chance >= 0.9


def test_flour_that_lacks_is_counted_in_the_nearest_plan(plan):
    """All else the same, the wish takes the flour of the plan that fits; with 50 g there is a smaller wish as well."""
    none, little = usual(flour_on_hand_g=0), usual(flour_on_hand_g=50)
    assert [near.change for near in none.alternatives] == [f"With {plan.flour_g:g} g of flour in the house."]
    assert none.nearest.setting.flour_on_hand_g == none.nearest.flour_g == plan.flour_g
    less, bought = little.alternatives
    assert less.flour_g <= 50
    assert "instead of 150 g" in less.change
    assert bought.flour_g == plan.flour_g
    late = usual(flour_on_hand_g=0, mix_at="2026-05-15T21:00+02:00").nearest
    assert late.change.startswith("Dough at ")
    assert late.change.endswith(f"With {late.flour_g:g} g of flour in the house.")


def test_what_is_said_of_the_water_fits_the_plan_that_is_reckoned():
    """The first feed's seed is cold and rich: 35 degC water brings the mix to less than the box's 28, by a balance of heat."""
    some = usual(mix_at="2026-05-16T13:00+02:00")
    first, feed = some.feeds.iloc[0], some.weighed[0]
    parts = [(feed.seed_g, 4.0, 3.1), (feed.flour_g, 22.0, 1.8), (feed.water_g, 35.0, 4.18)]
    comes_to = sum(g * temp * heat for g, temp, heat in parts) / sum(g * heat for g, _, heat in parts)
    assert first["water_temp_c"] == 35.0
    assert some.steps[0].mix_c == pytest.approx(comes_to, abs=0.01)
    assert first["advice"] == (
        f"With water at 35 °C, the warmest that does not harm the culture, the mix comes to {comes_to:.0f} °C instead of 28 °C. "
        "It warms up in its place; the plan's hours reckon with that."
    )


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"home_at": "2026-05-15T19:00"}, "must carry its offset"),
        (
            {"mix_at": "2026-05-15T18:00+02:00"},
            "Dough is to be mixed Fri 15 May 18:00; that must come after you can feed, Fri 15 May 19:00",
        ),
        ({"places": {"oven": 31}}, "at most 30 °C"),
        ({"places": {}}, "must stand somewhere"),
        ({"places": {"kitchen": 72}}, "Fahrenheit"),
        ({"chance": 90}, "between 0 and 1"),
        ({"scale_g": 0}, "above zero"),
        ({"awake": ("7 am", "22:00")}, "time of day"),
        ({"ripe_g": float("nan")}, "finite number"),
        ({"flours": {"bread": 0.5}}, "add up to 1"),
        ({"days_held": -1}, "zero or more"),
        ({"time_zone": "Mars/Base"}, "IANA name"),
    ],
)
def test_what_means_nothing_is_refused_in_one_sentence(changes, says):
    with pytest.raises(ValueError, match=says):
        usual(**changes)


def test_a_hot_box_warns_and_raw_flour_and_lids_are_always_named():
    text = " ".join(usual(places={"warm box": 29}).cautions)
    assert "above 28 °C" in text
    for word in ("Raw flour", "lid", "local food-safety", "Mould", "thermometer"):
        assert word in text


def test_days_at_home_before_the_plan_begins_are_days_in_the_cold():
    """Home on the 6th, dough on the 16th: the plan begins on the 12th, after 21 + 6 days; no feed knows which they were."""
    early = usual(home_at="2026-05-06T09:00+02:00", mix_at="2026-05-16T09:00+02:00", days_held=21, hold_temp_c=5)
    late = usual(home_at="2026-05-12T09:00+02:00", mix_at="2026-05-16T09:00+02:00", days_held=27, hold_temp_c=5)
    pd.testing.assert_frame_equal(early.feeds, late.feeds)
    assert early.ready_chance == late.ready_chance
    assert early.setting.start == late.setting.start == pd.Timestamp("2026-05-12T09:00+02:00")


@pytest.mark.parametrize("hours", [20, 30, 47, 71])
def test_a_weekend_in_the_cold_takes_as_much_on_the_way_back_as_was_said_when_the_jar_went(hours):
    """By hand: (0.7 (1 - e^-days) + k(T) days)/ln 2; from three days on the law's whole step, as before."""
    chilled = pd.Timestamp("2026-05-15T20:00+02:00")
    days = hours / 24
    back = usual(home_at=chilled + pd.Timedelta(hours=hours), mix_at="2026-05-20T09:00+02:00", days_held=days)
    assert back.setting.owed_mean == pytest.approx(taken_by_a_short_stay(days=days, temp_c=4.0), rel=2e-3)
    away = put_away(
        leave_at=chilled,
        return_at=chilled + pd.Timedelta(hours=hours),
        kitchen_temp_c=26,
        fridge_temp_c=4,
        from_at=chilled - pd.Timedelta(hours=13),
    )
    assert away.days_held < 3.0
    assert away.hold.cold_doublings == pytest.approx(rest_doublings(days=away.days_held, temp_c=4), abs=1e-9)
    for whole in (3.0, 5.0, 21.0):
        assert rest_doublings(days=whole, temp_c=4) == cold_doublings(days=whole, temp_c=4)


def test_a_jar_that_never_was_in_the_cold_owes_nothing():
    fresh = usual(days_held=0)
    assert (fresh.setting.owed_mean, fresh.reason, len(fresh.feeds)) == (0.0, "", 1)


def test_the_sentence_is_short(plan):
    assert len(plan.sentence.split()) <= 30


def test_the_same_question_gets_the_same_answer(plan):
    pd.testing.assert_frame_equal(plan.feeds, usual().feeds)
