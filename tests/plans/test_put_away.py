"""A put-away plan ripens as late as time and scale allow, and says what the cold will take."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad, solve_ivp

from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST
from fallow.plans.clock import hours_between
from fallow.plans.draws import Carried, Culture
from fallow.plans.put_away import put_away

LEAVE, BACK = "2026-05-01T18:00+02:00", "2026-05-22T18:00+02:00"


def usual(**changes):
    return put_away(
        **{"leave_at": LEAVE, "return_at": BACK, "kitchen_temp_c": 22, "fridge_temp_c": 4, "scale_g": 1, **changes}
    )


@pytest.fixture(scope="module")
def plan():
    return usual()


def test_the_fraction_at_chilling_is_the_laws_own(plan):
    hours = hours_between(plan.feed_at, plan.chill_at)
    earned = hours * GAENZLE_1998_YEAST.per_hour(temp_c=22.0) / math.log(2)
    assert plan.ripe_fraction_at_chill == pytest.approx(earned / (math.log2(21) + 1.4), rel=1e-6)
    assert plan.ripe_fraction_at_chill >= 0.4
    assert plan.reason == ""


def test_days_to_ripe_agree_with_a_solver_of_the_cooling_jar(plan):
    """Independent: scipy's solve_ivp on dE/dt = mu(T)/ln 2, dT/dt = (4 - T)/1.5, from the chilling on."""
    warm_hours = hours_between(plan.feed_at, plan.chill_at)
    for word, curve in (("yeast", GAENZLE_1998_YEAST), ("lab", GAENZLE_1998_LAB)):
        start = warm_hours * curve.per_hour(temp_c=22.0) / math.log(2)
        need = math.log2(21) + 1.4

        def slope(_, y, curve=curve):
            return [curve.per_hour(temp_c=y[1]) / math.log(2), (4.0 - y[1]) / 1.5]

        def ripe(_, y, need=need):
            return y[0] - need

        ripe.terminal = True
        done = solve_ivp(slope, (0, 2000), [start, 22.0], events=ripe, rtol=1e-8, atol=1e-10, max_step=5.0)
        assert plan.days_to_ripe_in_cold[word, "creep"] == pytest.approx(done.t_events[0][0] / 24, abs=0.01)
    assert plan.days_to_ripe_in_cold["yeast", "stop"] == math.inf


def test_what_it_owes_is_both_parts_of_the_law(plan):
    """(0.7 + k(4) days)/ln 2 with k from brewing yeast (McCaig and Bendiak 1985); nothing is left over from chilling young by creep."""
    days = hours_between(plan.chill_at, plan.return_at) / 24
    cold = (0.7 + 0.0121 * 6.2**0.3 * days) / math.log(2)
    assert plan.owed_doublings.cold_doublings == pytest.approx(cold, rel=1e-6)
    assert plan.owed_doublings.chilled_young_doublings == 0.0
    assert plan.owed_doublings.estimate == pytest.approx(cold, rel=1e-6)
    assert plan.owed_doublings.low < plan.owed_doublings.estimate < plan.owed_doublings.high


def test_by_stop_the_young_jar_owes_what_it_never_earned(plan):
    """Independent: quadrature of the cut curve over the cooling jar."""

    def rate(hours):
        temp = 4 + 18 * math.exp(-hours / 1.5)
        return GAENZLE_1998_YEAST.per_hour(temp_c=temp) / math.log(2) if temp > 8.05 else 0.0

    warm = hours_between(plan.feed_at, plan.chill_at) * GAENZLE_1998_YEAST.per_hour(temp_c=22.0) / math.log(2)
    last = 1.5 * math.log(18 / 4.05)
    cooling = quad(rate, 0, last)[0]
    young = math.log2(21) - warm - cooling
    assert plan.owed_by_stop.chilled_young_doublings == pytest.approx(young, abs=1e-4)
    assert plan.owed_by_stop.estimate > plan.owed_doublings.estimate


def test_no_other_feed_and_hour_ripens_later():
    """Brute force over feeds every half hour, chilling every half hour, seeds of 10 g and up in whole grams."""
    plan = usual(from_at="2026-05-01T07:00+02:00")
    rate = {c: c.per_hour(temp_c=22.0) / math.log(2) for c in (GAENZLE_1998_YEAST, GAENZLE_1998_LAB)}
    cold = {}
    for curve in rate:
        slope = lambda _, y, curve=curve: [curve.per_hour(temp_c=4 + 18 * math.exp(-_ / 1.5)) / math.log(2)]  # noqa: E731
        done = solve_ivp(slope, (0, 1500), [0.0], t_eval=np.linspace(0, 1500, 6001), max_step=2.0)
        cold[curve] = (done.y[0], done.t)
    best = 0.0
    for feed_hour, chill_hour in itertools.combinations(np.arange(0, 11.5, 0.5), 2):
        for seed_g in range(10, 101):
            need = math.log2(1 + 200 / seed_g) + 1.4
            warm = chill_hour - feed_hour
            if rate[GAENZLE_1998_YEAST] * warm < 0.4 * need:
                continue
            ripe = max(np.interp(need - rate[c] * warm, *cold[c]) for c in rate) + chill_hour
            best = max(best, ripe)
    chilled = hours_between(plan.asked.begin, plan.chill_at)
    assert plan.hold.ripe_days * 24 + chilled >= best - 0.5


def test_each_better_way_keeps_longer_and_the_unknown_is_not_computed(plan):
    table = plan.better.set_index("change")
    known = table.loc[["leaner by half", "chilled 2 h sooner", "a shelf 2 °C colder"]]
    assert (known["days_more"] > 0).all()
    assert table.loc["a shelf 2 °C colder", "owed_more"] < 0
    for name in ("stiffer", "dried", "frozen"):
        assert table.loc[name, "note"] == "not computed: no published number"
        assert math.isnan(table.loc[name, "days_to_ripe"])


def test_a_better_way_that_breaks_the_share_of_the_rise_says_what_it_leaves(plan):
    table = plan.better.set_index("change")
    for name in ("leaner by half", "chilled 2 h sooner"):
        done = table.loc[name, "ripe_fraction_at_chill"]
        assert done < 0.4
        assert f"only {100 * done:.0f} % of its growth done at chilling, not 40 %" in table.loc[name, "note"]
    assert table.loc["a shelf 2 °C colder", "note"] == ""


def test_chilled_sooner_owes_more_where_growth_stops_in_the_cold(plan):
    """Two hours at 22 degC that a jar whose growth stops in the fridge never gets back; the jar cools through the same curve."""
    table = plan.better.set_index("change")
    lost = 2 * GAENZLE_1998_YEAST.per_hour(temp_c=22.0) / math.log(2)
    assert table.loc["chilled 2 h sooner", "owed_more_by_stop"] == pytest.approx(lost, abs=0.01)
    assert table.loc["chilled 2 h sooner", "owed_more"] == pytest.approx(0.0, abs=0.01)


def test_leaner_by_half_is_exactly_one_doubling_later_in_the_cold(plan):
    hours = 24 * plan.better.set_index("change").loc["leaner by half", "days_more"]
    more = math.log2((205 / 5) / (210 / 10))
    assert hours == pytest.approx(more * math.log(2) / GAENZLE_1998_YEAST.per_hour(temp_c=4.0), rel=1e-3)


def test_beyond_four_weeks_a_reserve_comes_first():
    assert usual(return_at="2026-05-28T18:00+02:00").reserve is None
    plan = usual(return_at="2026-06-10T18:00+02:00")
    assert "below 30 °C" in plan.reserve.flakes
    assert "50 g" in plan.reserve.second_jar
    # Ripe starter for the flakes is there before the feed, fed starter for the second jar after it.
    assert [act.key for act in plan.acts] == ["flakes", "last feed", "second jar", "chill", "back"]


def test_the_reserves_second_jar_rises_first_and_is_chilled_with_the_other():
    plan = usual(return_at="2026-06-10T18:00+02:00")
    acts = {act.key: act for act in plan.acts}
    assert acts["second jar"].at < plan.chill_at
    assert f"Do not chill it yet: both go to the cold at {plan.chill_at:%a %H:%M}." in acts["second jar"].text
    assert acts["chill"].at == plan.chill_at
    assert acts["chill"].title == "Put both jars in the cold"
    assert {act.key: act for act in usual().acts}["chill"].title == "Put the jar in the cold"


def test_too_little_time_is_said_and_the_ripest_start_taken():
    plan = usual(from_at="2026-05-01T16:00+02:00")
    assert "29 %" in plan.reason
    assert plan.feed.dilution == pytest.approx(3.0)


def test_a_seed_the_scale_cannot_weigh_is_refused_with_what_would_do():
    with pytest.raises(
        ValueError,
        match=r"^New flour is 20 g and the scale reads to 5 g; a seed of ten divisions of the scale, 50 g, needs at "
        r"least 100 g of flour and water. Feed more flour, or use a finer scale.$",
    ):
        usual(scale_g=5, flour_g=20)


@pytest.mark.parametrize("minutes", [0, 12, 29, 47])
def test_a_kitchen_of_two_temperatures_is_read_at_any_minute(minutes):
    leave = pd.Timestamp("2026-03-02T19:00:15+01:00") + pd.Timedelta(minutes=minutes)
    plan = usual(
        leave_at=leave,
        return_at=leave + pd.Timedelta(days=5),
        from_at=leave - pd.Timedelta(days=1),
        kitchen_temp_c=(14, 15),
        awake=("18:00", "02:00"),
        fridge_temp_c=1.9,
        hydration_fraction=1.5,
        ripe_part=0.05,
        flour_g=300,
        scale_g=5,
    )
    assert plan.chill_at > plan.feed_at


def test_a_finer_scale_keeps_longer():
    assert usual(scale_g=0.1).hold.ripe_days > usual().hold.ripe_days
    assert usual(scale_g=0.1).feed.seed_g >= 1.0


def test_a_flight_over_the_date_line_and_the_clock_change_are_counted_in_true_hours():
    """Auckland to Honolulu and back: the offset tells the instant; summer time ends in Auckland on 5 April 2026."""
    plan = usual(
        leave_at="2026-03-28T20:00+13:00", return_at="2026-04-10T20:00", time_zone="Pacific/Auckland", kitchen_temp_c=20
    )
    assert plan.days_held == pytest.approx(13 + 1 / 24, abs=1e-9)
    away = usual(leave_at="2026-03-28T20:00+13:00", return_at="2026-04-09T22:00-10:00")
    assert away.days_held == pytest.approx(13 + 1 / 24, abs=1e-9)


def test_how_many_feeds_always_names_its_schedule(plan):
    table = plan.likely_feeds.set_index("schedule")
    assert table.loc["at the peak", "feeds"] == 2
    assert (table["low"] <= table["feeds"]).all()
    assert (table["feeds"] <= table["high"]).all()


@pytest.mark.parametrize("days", [30, 460])
def test_a_share_that_ripe_feeds_leave_is_counted_at_the_peak(days):
    """Each ripe feed leaves a share s: in form at the first feed k with s^(k-1) W at most 0.5 (design law), draw by draw."""
    back = pd.Timestamp(LEAVE) + pd.Timedelta(days=days)
    repaid = usual(return_at=back)
    assert repaid.likely_feeds["feeds"].iloc[0] == 2
    made = usual(return_at=back, culture=Culture(carried=Carried(middle_logit=-0.4, sd_logit=0.4)))
    owed, share = made.hold.owed_drawn(), made.hold.draws.carried
    needed = np.where(owed <= 0.5, 1, 2 + np.maximum(0, np.ceil(np.log(0.5 / owed) / np.log(share) - 1)))
    said = made.likely_feeds.iloc[0]
    ends = np.quantile(np.minimum(needed, 20), [0.05, 0.5, 0.95], method="inverted_cdf")
    assert (said["low"], said["feeds"], said["high"]) == tuple(ends)
    assert said["low"] < said["high"]
    assert said["feeds"] > 2
    # Fed by the clock no feed leaves less than the same share.
    assert made.likely_feeds["feeds"].iloc[1] >= repaid.likely_feeds["feeds"].iloc[1]


def test_the_sentence_is_short_and_names_the_story(plan):
    assert len(plan.sentence.split()) <= 30
    assert "creep" in plan.sentence
    assert "(0.6 to 3.2)" in plan.sentence


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (
            {"return_at": "2026-05-01T17:00+02:00"},
            "^You are back Fri 1 May 2026 17:00, which is not after you leave, Fri 1 May 2026 18:00;",
        ),
        ({"return_at": LEAVE}, "which is not after you leave"),
        (
            {"from_at": "2026-05-02T08:00+02:00"},
            "^The first hour to feed is Sat 2 May 2026 08:00, which is not before you leave",
        ),
        ({"fridge_temp_c": 39}, "write 3.9 °C"),
        ({"fridge_temp_c": -18}, "Frozen jars are not computed"),
        ({"fridge_temp_c": 72}, "Fahrenheit"),
        ({"flour_g": 0}, "above zero"),
        ({"ripe_part": 40}, "at most 1"),
        ({"kitchen_temp_c": 33}, "at most 30 °C"),
        ({"awake": ("07:00", "07:00")}, "Nobody is awake"),
        ({"leave_at": "2026-05-01T18:00"}, "must carry its offset"),
        ({"owed": -1}, "zero or more"),
    ],
)
def test_what_means_nothing_is_refused_in_one_sentence(changes, says):
    with pytest.raises(ValueError, match=says):
        usual(**changes)


@pytest.mark.parametrize("number", range(12))
def test_every_gram_of_the_last_feed_can_be_weighed_and_none_ripens_later(number):
    """Brute force over a random kitchen: feeds and chillings every two hours, every seed that its scale can weigh."""
    rng = np.random.default_rng([55, number])
    scale_g, temp_c = float(rng.choice([1, 2])), float(rng.uniform(17, 28))
    flour_g, part = float(rng.integers(40, 250)), float(rng.choice([0.3, 0.4, 0.5]))
    some = usual(
        kitchen_temp_c=temp_c, scale_g=scale_g, flour_g=flour_g, hydration_fraction=0.65, ripe_part=part,
        flours={"bread": 0.55, "rye": 0.45}, from_at="2026-05-01T07:00+02:00",
    )  # fmt: skip
    grams = np.array([some.feed.seed_g, some.feed.water_g, *some.feed.flours_g.values()]) / scale_g
    assert np.allclose(grams, np.round(grams), atol=1e-6)
    assert abs(sum(some.feed.flours_g.values()) - flour_g) <= scale_g
    new_g = some.feed.total_g - some.feed.seed_g
    seeds = np.arange(10 * scale_g, new_g / 2, scale_g)
    need = np.log2(1 + new_g / seeds) + 1.4
    hours = np.concatenate([np.linspace(0, 24, 2401), np.arange(25, 24 * 365)])
    best = 0.0
    rates = {c: c.per_hour(temp_c=temp_c) / math.log(2) for c in (GAENZLE_1998_YEAST, GAENZLE_1998_LAB)}
    cold = {}
    for curve in rates:
        slope = curve.per_hour(temp_c=4 + (temp_c - 4) * np.exp(-hours / 1.5)) / math.log(2)
        cold[curve] = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(hours))])
    for feed_hour, chill_hour in itertools.combinations(np.arange(0, 12, 2.0), 2):
        warm = chill_hour - feed_hour
        can = need[rates[GAENZLE_1998_YEAST] * warm >= part * need]
        if len(can):
            ripe = max(np.interp(can.max() - rates[c] * warm, cold[c], hours) for c in rates)
            best = max(best, ripe + chill_hour)
    if some.reason == "":
        assert some.hold.ripe_days * 24 + hours_between(some.asked.begin, some.chill_at) >= best - 0.5
        assert some.ripe_fraction_at_chill >= part - 1e-9


def test_a_hot_kitchen_is_warned_of_before_the_cold_too():
    assert any("above 28 °C" in said for said in usual(kitchen_temp_c=(29, 24)).cautions)
    assert not any("above 28 °C" in said for said in usual(kitchen_temp_c=28).cautions)


def test_what_would_be_better_names_no_hour_asleep_and_no_frost():
    rows = usual(fridge_temp_c=0.5).better.set_index("change")
    assert rows.loc["a shelf 2 °C colder", "note"] == "a jar would freeze there; frozen jars are not computed"
    assert math.isnan(rows.loc["a shelf 2 °C colder", "days_more"])
    early = usual(leave_at="2026-05-01T08:00+02:00", awake=("07:00", "08:30"))
    assert early.chill_at.hour < 9
    assert early.better.set_index("change").loc["chilled 2 h sooner", "note"].startswith("nobody is awake then")


@pytest.mark.parametrize("number", range(8))
def test_a_kitchen_that_cools_at_night_is_chilled_at_the_best_hour(number):
    """Brute force in a random kitchen: every quarter of an hour to feed and to chill, minute by minute warm, by quadrature cold.

    A jar goes to the cold from what its kitchen is just before: at 07:00 still the night's.
    """
    rng = np.random.default_rng([77, number])
    leave = pd.Timestamp("2026-11-10T00:00+01:00") + pd.Timedelta(minutes=30 * int(rng.integers(10, 48)))
    day_c, fridge_c = float(rng.uniform(18, 27)), float(rng.uniform(1, 7))
    night_c, back = day_c - float(rng.uniform(3, 9)), leave + pd.Timedelta(days=60)
    some = usual(leave_at=leave, return_at=back, kitchen_temp_c=(day_c, night_c), fridge_temp_c=fridge_c)
    begin, end = some.asked.begin, round(60 * hours_between(some.asked.begin, leave))
    wall = (60 * begin.hour + begin.minute + np.arange(end + 1)) % 1440
    warm_c = np.where((wall >= 420) & (wall < 1350), day_c, night_c)
    awake = [minute for minute in range(0, end + 1, 15) if 420 <= wall[minute] <= 1350]
    need = np.log2(1 + some.asked.new_g / np.arange(10, some.asked.new_g / 2)) + 1.4
    hours = np.concatenate([np.linspace(0, 24, 2401), np.arange(25, 24 * 365)])
    warm, cold = {}, {}
    for curve in (GAENZLE_1998_YEAST, GAENZLE_1998_LAB):
        warm[curve] = np.concatenate([[0.0], np.cumsum(curve.per_hour(temp_c=warm_c)) / math.log(2) / 60])
        for from_c in (day_c, night_c):
            slope = curve.per_hour(temp_c=fridge_c + (from_c - fridge_c) * np.exp(-hours / 1.5)) / math.log(2)
            cold[curve, from_c] = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(hours))])
    best = 0.0
    for feed, chill in itertools.combinations(sorted({*awake, end}), 2):
        can = need[warm[GAENZLE_1998_YEAST][chill] - warm[GAENZLE_1998_YEAST][feed] >= 0.4 * need - 1e-9]
        if len(can):
            left = {curve: can.max() - by[chill] + by[feed] for curve, by in warm.items()}
            ripe = max(np.interp(left[curve], cold[curve, warm_c[chill - 1]], hours) for curve in warm)
            best = max(best, ripe + chill / 60)
    assert some.hold.ripe_days * 24 + hours_between(begin, some.chill_at) >= best - 0.5
