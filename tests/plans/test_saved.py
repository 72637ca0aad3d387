"""Saved plans are dated, never written over, and held against what the record saw."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pandas as pd
import pytest

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.against import honesty, plans_against_outcomes
from fallow.plans.bring_back import bring_back
from fallow.plans.put_away import put_away
from fallow.plans.saved import owed_as_saved, return_as_saved, save_plan, saved_plans, saved_put_aways
from fallow.records.experiment import Experiment

MADE = "2026-05-15T18:00+02:00"


@pytest.fixture
def record(tmp_path):
    made = Experiment.create(tmp_path / "trial", title="T", question="Q?", time_zone="Europe/Berlin")
    made.add_culture(culture="gull", flour="bread", hydration_fraction=1.0)
    made.add_jar(jar="A1", culture="gull")
    return made


@pytest.fixture(scope="module")
def plan():
    return bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00", places={"kitchen": 22, "warm box": 28}
    )


def followed(record, plan, *, late_hours: float) -> None:
    """Feed as planned and look every half hour; the peak comes ``late_hours`` after the forecast hour."""
    first = plan.feeds.iloc[0]
    record.add_feed(
        jar="A1",
        feed=1,
        kind="recovery",
        at=first["at"].isoformat(),
        seed_g=first["seed_g"],
        water_g=first["water_g"],
        flours_g={"bread": first["bread_g"], "rye": first["rye_g"]},
    )
    record.add_reading(jar="A1", feed=1, at=(first["at"] + pd.Timedelta(minutes=6)).floor("s").isoformat(), height=50.0)
    peak = first["ripe_at"] + pd.Timedelta(hours=late_hours)
    for step in range(-4, 5):
        at = (peak + pd.Timedelta(minutes=30 * step)).floor("s")
        record.add_reading(jar="A1", feed=1, at=at.isoformat(), height=100.0 - 4 * abs(step))


def test_the_same_plan_saved_twice_is_two_files(record, plan):
    one, two = (save_plan(record, plan, jar="A1", made_at=MADE) for _ in range(2))
    assert [path.name for path in (one, two)] == ["2026-05-15-A1-1.json", "2026-05-15-A1-2.json"]
    assert one.read_text(encoding="utf-8") == two.read_text(encoding="utf-8")
    table = saved_plans(record)
    assert len(table) == 2 * len(plan.feeds)
    assert list(table["ripe_at"].iloc[: len(plan.feeds)]) == [t.tz_convert("UTC") for t in plan.feeds["ripe_at"]]
    assert record.check() == []


@pytest.mark.parametrize(("late", "off", "inside"), [(0.0, 0.0, True), (2.0, 1.5, True), (20.0, 19.5, False)])
def test_a_forecast_is_held_against_the_looks_around_the_peak(record, plan, late, off, inside):
    """The peak lies within half an hour of the highest look, so the forecast is off by that much less."""
    save_plan(record, plan, jar="A1", made_at=MADE)
    followed(record, plan, late_hours=late)
    table = plans_against_outcomes(record)
    assert len(table) == 1
    assert table["hours_off"].iloc[0] == pytest.approx(off, abs=0.01)
    assert bool(table["inside"].iloc[0]) is inside
    assert f"{int(inside)} of 1 forecast intervals held" in honesty(table)


def watched(record, *, at, hours: float, heights) -> None:
    """Feed at an instant and look every hour: one height a look, the first right after the feed."""
    record.add_feed(
        jar="A1", feed=1, kind="recovery", at=at.isoformat(), seed_g=20, water_g=100, flours_g={"bread": 100}
    )
    for number, height in enumerate(heights):
        look = at + pd.Timedelta(minutes=6) + pd.Timedelta(hours=hours * number)
        record.add_reading(jar="A1", feed=1, at=look.floor("s").isoformat(), height=float(height))


def test_numbers_beside_what_happened_are_those_of_a_reckoning_by_hand(record, plan):
    """Fed half an hour late, looks at 0.1, 2.1, ... h: highest at 12.1 h, lower at 14.1 h, so the peak lies between 10.1 and 14.1."""
    save_plan(record, plan, jar="A1", made_at=MADE)
    first = plan.feeds.iloc[0]
    at = first["at"] + pd.Timedelta(minutes=30)
    watched(record, at=at, hours=2.0, heights=[50, 52, 56, 64, 80, 92, 100, 90])
    [row] = plans_against_outcomes(record).to_dict("records")
    said = [(first[name] - first["at"]).total_seconds() / 3600 for name in ("ripe_low", "ripe_at", "ripe_high")]
    assert [row["low_hours"], row["ripe_hours"], row["high_hours"]] == pytest.approx(said, abs=1e-3)
    assert (row["peak_from"], row["peak_to"]) == (pytest.approx(10.1), pytest.approx(14.1))
    assert row["hours_off"] == pytest.approx(max(0.0, 10.1 - said[1]), abs=1e-3)
    assert row["inside"] == (said[0] <= 14.1 and said[2] >= 10.1)


def test_what_was_written_down_afterwards_is_no_forecast(record, plan):
    first = plan.feeds.iloc[0]
    followed(record, plan, late_hours=0.0)
    save_plan(record, plan, jar="A1", made_at=first["at"] + pd.Timedelta(days=2))
    assert not len(plans_against_outcomes(record))
    save_plan(record, plan, jar="A1", made_at=first["at"] + pd.Timedelta(minutes=20))
    [row] = plans_against_outcomes(record).to_dict("records")
    assert row["file"] == f"{first['at'].tz_convert('UTC'):%Y-%m-%d}-A1-1.json"


@pytest.mark.parametrize(("hours", "counts"), [(2.0, False), (5.0, True)])
def test_a_jar_that_rises_on_beyond_its_forecast_counts_against_it(record, plan, hours, counts):
    """Six looks, the last 10 h and 25 h after the feed, none of them past the peak; the forecast's late end lies between."""
    first = plan.feeds.iloc[0]
    assert 10 < (first["ripe_high"] - first["at"]).total_seconds() / 3600 < 25
    save_plan(record, plan, jar="A1", made_at=MADE)
    watched(record, at=first["at"], hours=hours, heights=[50, 52, 56, 64, 80, 92])
    table = plans_against_outcomes(record)
    assert len(table) == counts
    if counts:
        assert not table["inside"].iloc[0]
        assert table["hours_off"].iloc[0] > 0
        assert "0 of 1 forecast intervals held" in honesty(table)


def test_an_end_that_a_plan_could_not_see_is_endless_and_not_missed(record, plan):
    """Ripe 'not before' some hour, or from some hour 'to later': a peak after it was forecast; without a middle nothing is off."""
    first = plan.feeds.iloc[0]
    late = plan.feeds.assign(ripe_high=pd.NaT, ripe_low=first["at"] + pd.Timedelta(hours=4))
    save_plan(record, replace(plan, feeds=late), jar="A1", made_at=MADE)
    save_plan(record, replace(plan, feeds=late.assign(ripe_at=pd.NaT)), jar="A1", made_at="2026-05-15T18:30+02:00")
    watched(record, at=first["at"], hours=2.0, heights=[50, 52, 56, 80, 100, 90])
    [row] = plans_against_outcomes(record).to_dict("records")
    assert row["file"] == "2026-05-15-A1-2.json"
    assert row["inside"]
    assert math.isnan(row["hours_off"])
    assert honesty(plans_against_outcomes(record)).startswith("1 of 1 forecast intervals held (9 of 10 should).")


@pytest.fixture(scope="module")
def away():
    return put_away(
        leave_at="2026-04-24T18:00+02:00", return_at="2026-05-15T18:00+02:00", kitchen_temp_c=22, fridge_temp_c=4
    )


def came_back(record, *, hours_to_peak: float) -> None:
    """Six baseline feeds in form by the law at 26 degC (1:1:1 peaks at 5.0 h, 1:5:5 at 8.1 h), then the first after the cold."""
    home = pd.Timestamp("2026-05-16T08:00+02:00")
    for number in range(-6, 0):
        lean = number % 2
        new_g, hours = (250, 8.13) if lean else (50, 5.0)
        feed_and_look(
            record, feed=number, kind="baseline", at=home + pd.Timedelta(days=number - 30), new_g=new_g, hours=hours
        )
    feed_and_look(record, feed=1, kind="recovery", at=home, new_g=50, hours=hours_to_peak)


def feed_and_look(record, *, feed: int, kind: str, at: pd.Timestamp, new_g: float, hours: float) -> None:
    """Feed 50 g and look every quarter of an hour around the peak."""
    grams = {"seed_g": 50, "water_g": new_g, "flours_g": {"bread": new_g}}
    record.add_feed(jar="A1", feed=feed, kind=kind, at=at.isoformat(), place_temp_c=26.0, **grams)
    looks = [(0.1, 50.0), *((hours + step / 4, 100.0 - 4 * abs(step)) for step in range(-4, 5))]
    for after, height in looks:
        record.add_reading(
            jar="A1", feed=feed, at=(at + pd.Timedelta(hours=after)).floor("s").isoformat(), height=height
        )


def test_both_kinds_are_saved_and_each_is_read_as_what_it_is(record, plan, away):
    one, two = save_plan(record, away, jar="A1", made_at=MADE), save_plan(record, plan, jar="A1", made_at=MADE)
    assert [one.name, two.name] == ["2026-05-15-A1-1.json", "2026-05-15-A1-2.json"]
    assert len(saved_plans(record)) == len(plan.feeds)
    [row] = saved_put_aways(record).to_dict("records")
    assert row["chill_at"] == away.chill_at.tz_convert("UTC")
    assert (row["owed"], row["owed_by_stop"]) == (away.owed_doublings.estimate, away.owed_by_stop.estimate)
    assert "Infinity" not in one.read_text(encoding="utf-8")
    assert len(plans_against_outcomes(record)) == 0
    with pytest.raises(ValueError, match="only put-away and bring-back plans"):
        save_plan(record, "a plan", jar="A1", made_at=MADE)


def test_what_a_put_away_plan_says_is_owed_starts_the_way_back_fresh_or_saved(record, away):
    """End to end: the object, and the same read back from its file, give one and the same plan; and its interval is kept."""
    save_plan(record, away, jar="A1", made_at="2026-04-24T12:00+02:00")
    read = owed_as_saved(record, jar="A1")
    assert read == away.owed_doublings
    asked = {"home_at": "2026-05-15T19:00+02:00", "mix_at": "2026-05-17T09:00+02:00", "places": {"kitchen": 22}}
    fresh, again = (bring_back(**asked, owed=owed) for owed in (away.owed_doublings, read))
    pd.testing.assert_frame_equal(fresh.feeds, again.feeds)
    assert fresh.owed_doublings.low == pytest.approx(away.owed_doublings.low, abs=0.1)
    assert fresh.owed_doublings.high == pytest.approx(away.owed_doublings.high, abs=0.15)
    by_days = bring_back(**asked, days_held=away.days_held, hold_temp_c=4)
    assert fresh.owed_doublings.estimate == pytest.approx(by_days.owed_doublings.estimate, abs=0.05)
    with pytest.raises(ValueError, match="no put-away plan was saved"):
        owed_as_saved(record, jar="B2")


def test_days_beyond_the_planned_return_are_owed_too(record, away):
    """Home ten days late, against a put-away plan of the same jar that had those ten days in it."""
    save_plan(record, away, jar="A1", made_at="2026-04-24T12:00+02:00")
    assert return_as_saved(record, jar="A1") == away.return_at
    late = away.return_at + pd.Timedelta(days=10)
    asked = {"home_at": late, "mix_at": late + pd.Timedelta(days=2), "places": {"kitchen": 22}, "hold_temp_c": 4}
    saved = {"owed": owed_as_saved(record, jar="A1"), "owed_on": return_as_saved(record, jar="A1")}
    kept, added = bring_back(**asked, owed=saved["owed"]), bring_back(**asked, **saved)
    told = away.asked
    longer = put_away(leave_at=told.leave, return_at=late, kitchen_temp_c=22, fridge_temp_c=4)
    more = longer.owed_doublings.cold_doublings - away.owed_doublings.cold_doublings
    assert more > 0.25
    assert added.setting.owed_mean - kept.setting.owed_mean == pytest.approx(more, abs=0.02)
    home = away.return_at - pd.Timedelta(days=5)
    early = {**asked, "home_at": home, "mix_at": home + pd.Timedelta(days=2)}
    assert bring_back(**early, **saved).setting.owed_mean == saved["owed"].estimate
    with pytest.raises(ValueError, match="nothing is said of what is owed then"):
        bring_back(**asked, owed_on=late)


@pytest.mark.parametrize(("hours", "inside", "later"), [(8.0, True, 0), (5.0, False, -1), (16.0, False, 1)])
def test_what_was_said_to_be_owed_is_held_against_the_first_feed_after_the_cold(record, away, hours, inside, later):
    """By hand at 26 degC: W = rate * (hours - 5.0), so 8.0 h is about 1.8 doublings, 5.0 h none, 16 h about 5."""
    save_plan(record, away, jar="A1", made_at="2026-04-24T12:00+02:00")
    save_plan(record, put_away_again(away), jar="A1", made_at="2026-05-20T12:00+02:00")
    came_back(record, hours_to_peak=hours)
    [row] = plans_against_outcomes(record).to_dict("records")
    assert row["kind"] == "put away"
    assert row["file"] == "2026-04-24-A1-1.json"
    rate = float(GAENZLE_1998_YEAST.per_hour(temp_c=26.0)) / math.log(2)
    assert row["w"] == pytest.approx(rate * (hours - 5.0), abs=0.35)
    assert row["inside"] is inside
    assert (row["doublings_off"] > 0) - (row["doublings_off"] < 0) == later
    assert math.isnan(row["hours_off"])
    assert "doublings of what was owed" in honesty(plans_against_outcomes(record))


def put_away_again(away):
    """A plan made after the feed: it must not count."""
    return replace(away, owed_doublings=replace(away.owed_doublings, low=0.0, high=99.0))


def test_nothing_followed_is_said(record, plan):
    save_plan(record, plan, jar="A1", made_at=MADE)
    assert honesty(plans_against_outcomes(record)) == "No saved plan has been followed to a peak yet."


def test_a_jar_that_is_not_there_and_a_plan_without_feeds_are_refused(record, plan):
    with pytest.raises(ValueError, match="Add the jar first"):
        save_plan(record, plan, jar="B2", made_at=MADE)
    empty = bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00", places={"kitchen": 22}, flours={}
    )
    with pytest.raises(ValueError, match="no feed"):
        save_plan(record, empty, jar="A1", made_at=MADE)
    assert not (record.folder / "plans").exists()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "it is not JSON text"),
        ("[]", "it names no kind of plan, or not version 1"),
        ('{"version": 1, "kind": "put away"}', "it lacks made_at, jar, feed_at"),
        (
            '{"version": 1, "kind": "bring back", "made_at": "", "jar": "J1", "ready_chance": 1, "feeds": [{"feed": 1}]}',
            "it lacks at",
        ),
    ],
)
def test_a_file_that_is_no_saved_plan_is_named_with_what_it_lacks(record, text, why):
    folder = record.folder / "plans"
    folder.mkdir(exist_ok=True)
    (folder / "torn.json").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=re.escape(f"plans/torn.json is no saved plan: {why}")):
        saved_plans(record)
    with pytest.raises(ValueError, match="Move it out of the folder plans and try again"):
        saved_put_aways(record)
