"""The page for one jar without a browser: four answers, a holiday written down, found again, and what the record says."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from tests.records.one_jar_years import three_years

from fallow.panels.one_jar import words
from fallow.panels.one_jar.asked import Asked
from fallow.panels.one_jar.entries import ORDINARY
from fallow.panels.one_jar.page import OneJar
from fallow.panels.one_jar.picture import ledger_of
from fallow.plans.clock import hours_between
from fallow.plans.places import SHELVES_C
from fallow.plans.saved import saved_plans
from fallow.records.experiment import Experiment
from fallow.records.one_jar import Stage, standing

ZONE = ZoneInfo("Europe/Berlin")
START = datetime(2026, 12, 3, 21, 0, tzinfo=ZONE)
NASTY = '<script>window.hurt=1</script>=HYPERLINK("x")\u202eאב' + "x" * 10_000


class Kitchen:
    """A folder of experiments and a clock that is moved by hand."""

    def __init__(self, folder):
        self.folder, self.at = folder, START

    def page(self):
        return OneJar(self.folder, now=lambda: self.at, time_zone="Europe/Berlin")

    def wait(self, **time):
        self.at += timedelta(**time)


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(tmp_path)


def asked(**other):
    plain = {
        "now": pd.Timestamp(START),
        "fed_at": pd.Timestamp(START) - pd.Timedelta(hours=3),
        "days_away": 14.0,
        "hold_temp_c": 3.3,
        "mix_at": pd.Timestamp(START) + pd.Timedelta(days=15, hours=13),
    }
    return Asked(**plain | other)


def write_feed(page, *, at="now", height="", seed="20", rye=""):
    entry = page.logbook.feed
    entry.at.text, entry.seed.text, entry.water.text, entry.height.text = at, seed, "60", height
    entry.flours["bread"].text, entry.flours["rye"].text = "60", rye
    page.logbook.save_feed()


def into_the_cold(kitchen):
    """Last feed at 18:00, in the fridge at 21:00 on the third of December; the page as it stands then."""
    page = kitchen.page()
    page.form.mix.text = "19 Dec 10:00"
    write_feed(page, at="18:00", height="40")
    page.logbook.hold.at.text = "21:00"
    page.logbook.save_hold()
    return page


def brought_back(kitchen):
    """Out after two weeks, fed at once, and looked at when half risen."""
    into_the_cold(kitchen)
    kitchen.wait(days=14)
    page = kitchen.page()
    page.logbook.save_out()
    write_feed(page, height="30")
    return page


def test_the_first_answer_stands_at_once_and_nothing_is_written(kitchen):
    page = kitchen.page()
    assert re.fullmatch(r"Feed \w+.*: .+ Ripe about .+ \(.+ to .+\).*; ready .+ in .+ such jars\.", page.answer.text)
    assert list(kitchen.folder.iterdir()) == []
    assert len(page.form.four) == 4


@pytest.mark.parametrize(
    ("days", "hours", "kitchen_c"), [(0, 30, 24), (3, 60, 17), (21, 16, 24), (60, 30, 17), (200, 60, 24), (200, 90, 17)]
)
def test_the_answer_has_at_most_thirty_words_and_both_ends(days, hours, kitchen_c):
    back = pd.Timestamp(START) + pd.Timedelta(days=days)
    said = words.answer(asked(days_away=days, mix_at=back + pd.Timedelta(hours=hours), kitchen_c=kitchen_c))
    assert len(said.split()) <= 30, said
    assert said.startswith("Too soon for ") or re.search(r"\(.+ to .+\)", said), said


@pytest.mark.parametrize("days", [0, 14, 56])
def test_a_jar_that_goes_to_the_fridge_unripe_is_not_said_to_ripen_after_the_dough(days):
    # At 22 degC the plan moves the last feed to the fridge; its late end there lies days after the dough, or nowhere.
    one = asked(days_away=float(days), mix_at=pd.Timestamp(START).normalize() + pd.Timedelta(days=days + 2, hours=10))
    last = one.plan.feeds.iloc[-1]
    assert last["ripe_at"] <= last["cold_at"]
    assert not last["ripe_high"] <= one.mix_at
    said = words.answer(one)
    assert len(said.split()) <= 30
    assert re.search(rf"\(\S+ to {last['cold_at']:%H:%M}, then fridge, ripe or not\); ready", said), said
    assert "ripens on there, slowly" in words.taken_for_granted(one)


def test_the_box_for_days_away_says_what_it_does(kitchen):
    page = kitchen.page()
    assert page.form.days.shown.startswith("No feed before Wed 16 Dec 23:00, when you are back;")
    assert "stays in the cold" in page.form.days.shown
    page.form.days.text = "400"
    assert "not back before Thu 6 Jan 2028 23:00" in page.answer.text
    into_the_cold(kitchen)
    kitchen.wait(days=14)
    page = kitchen.page()
    page.logbook.save_out()
    came_out = "Not asked any more: the jar came out Thu 17 Dec 21:00."
    assert page.form.days.shown == f"{came_out} Until the first feed it belongs in the cold."
    write_feed(page)
    assert page.form.days.shown == came_out


def test_home_late_with_no_waking_hour_before_the_dough_what_would_do_is_offered(kitchen):
    page = kitchen.page()
    page.form.days.text, page.form.mix.text = "14", "17 Dec 00:30"
    assert page.answer.text == "Nobody is awake to feed between Wed 23:00 and Thu 00:30."
    assert "What would do: Dough at " in page.note.markup
    assert page.near[0].layout.display is None
    page.take(0)
    assert "Ripe about " in page.answer.text


def test_a_last_feed_of_another_decade_and_a_kitchen_never_awake_are_answered_in_words(kitchen):
    page = kitchen.page()
    page.form.fed.text = "1990-01-01 10:00"
    assert page.answer.text.startswith("From the last feed, Mon 1 Jan 1990 10:00, the jar would rest ")
    page.form.fed.text = "yesterday 20:00"
    page.form.awake.text = "07:00 to 07:00"
    assert "awake" in page.answer.text


def test_up_to_eight_feeds_are_said_in_words(monkeypatch):
    plan = asked().plan
    assert words.TIMES[8] == "eight times"
    many = pd.concat([plan.feeds.iloc[:1]] * 5, ignore_index=True)
    assert words.feeds_text(replace(plan, feeds=many), now=pd.Timestamp(START)).startswith("Feed five times, ")


def test_picture_and_sentence_say_the_same_hours():
    one = asked()
    ledger, plan = ledger_of(one), one.plan
    shown = ledger.feeds.set_index("feed")["ripe_hours"]
    last = f"feed {len(plan.feeds)}"
    assert shown[last] == pytest.approx(hours_between(one.fed_at, plan.feeds["ripe_at"].iloc[-1]), abs=1e-3)
    assert ledger.feeds["feed"].tolist() == ["last feed", *(f"feed {n + 1}" for n in range(len(plan.feeds)))]
    assert [fold.label for fold in ledger.axis.folds] == ["14 days at 3.3 °C"]


def test_no_feed_before_the_jar_is_back_nor_before_now():
    late = asked(now=pd.Timestamp(START) + pd.Timedelta(days=15), days_away=3.0)
    assert late.back_at == late.now
    early = asked(days_away=14.0)
    assert early.back_at == early.fed_at + pd.Timedelta(hours=3) + pd.Timedelta(days=14)
    assert pd.Timestamp(early.plan.feeds["at"].iloc[0]) >= early.back_at


def test_a_colder_shelf_takes_less_and_a_longer_holiday_more():
    by_shelf = [asked(hold_temp_c=temp_c).owed.estimate for temp_c in SHELVES_C.values()]
    assert by_shelf == sorted(by_shelf)
    assert asked(days_away=60, mix_at=pd.Timestamp(START) + pd.Timedelta(days=62)).owed.estimate > by_shelf[1]


def test_an_empty_or_unread_box_is_named_and_the_next_word_answers_again(kitchen):
    page = kitchen.page()
    page.form.days.text = ""
    assert (page.answer.text, page.answer.trouble) == ("Days away is empty; the answer needs it. Type it in.", True)
    assert page.note.markup == ""
    page.form.days.text = "14"
    assert not page.answer.trouble
    page.form.mix.text = "soonish"
    assert page.answer.trouble
    assert "soonish" in page.answer.text


def test_dough_before_the_return_is_refused_in_words(kitchen):
    page = kitchen.page()
    page.form.mix.text = "10 Dec 10:00"
    assert page.answer.text.startswith("The dough is wanted Thu 10 Dec 10:00, but the jar is not back before ")


def test_a_wish_too_soon_says_what_would_do_and_takes_it(kitchen):
    page = kitchen.page()
    page.form.fed.text, page.form.days.text, page.form.mix.text = "18:00", "14", "18 Dec 06:00"
    assert page.answer.text.startswith("Too soon for Fri 18 Dec 06:00: ready then in ")
    assert "What would do: Dough at " in page.note.markup
    shown = [button.label for button in page.near if button.layout.display is None]
    assert shown
    assert shown[0].startswith("Take this: Dough at ")
    page.take(0)
    assert page.answer.text.startswith("Feed ")
    assert page.form.mix.text != "18 Dec 06:00"
    assert all(button.layout.display == "none" for button in page.near)


def test_above_28_it_warns_and_above_30_it_plans_nothing(kitchen):
    page = kitchen.page()
    page.form.warm.text = "29"
    page.form.kitchen.text = "29"
    assert "above 28 °C the yeast slows" in page.warned.markup
    page.form.kitchen.text = "31"
    assert page.answer.trouble
    assert page.answer.text.startswith("Kitchen is 31 °C; a plan warms a jar to at most 30 °C.")


def test_the_cautions_are_there_and_a_long_hold_asks_for_a_reserve(kitchen):
    page = kitchen.page()
    for caution in ("Never screw or clamp the lid", "do not taste them", "Mould, pink", "local food-safety rules"):
        assert caution in page.warned.markup
    assert "keep a reserve" not in page.warned.markup
    page.form.days.text, page.form.mix.text = "40", "14 Jan 2027 10:00"
    assert "keep a reserve" in page.warned.markup


def test_a_holiday_is_written_down_step_by_step_and_found_again(kitchen):
    page = into_the_cold(kitchen)
    assert "Saved: in the fridge since Thu 3 Dec 21:00, middle shelf, 3.3 °C" in page.logbook.said.text
    again = kitchen.page()
    assert "in the fridge since Thu 3 Dec 21:00, middle shelf, 3.3 °C" in again.logbook.heading.markup
    assert again.form.fed.text == "2026-12-03 18:00"
    assert again.form.mix.text == "2026-12-19 10:00"
    assert again.asked().last_feed.ratio == "1:3:3"
    visible = [entry for entry in again.logbook.entries if entry.layout.display is None]
    assert visible == [again.logbook.out, again.logbook.end]

    kitchen.wait(days=14)
    page = brought_back_from(kitchen)
    assert page.answer.text.startswith("Feed 1 is ripe about ")
    page.logbook.end.note.text = NASTY
    page.logbook.save_end()
    record = Experiment.open(kitchen.folder / "my-starter")
    assert record.check() == []
    assert standing(record).stage is Stage.AT_HOME
    assert record.jars["note"].iloc[0] == NASTY


def brought_back_from(kitchen):
    page = kitchen.page()
    page.logbook.save_out()
    write_feed(page, height="30")
    return page


def test_a_look_narrows_when_the_feed_is_ripe_and_plans_the_next(kitchen):
    page = brought_back(kitchen)
    before = page.underway(page.asked())
    assert "write its height down" in page.answer.text
    kitchen.wait(hours=9)
    page.logbook.look.height.text = "55"
    page.logbook.look.height.enters += 1
    after = page.underway(page.asked())
    assert page.logbook.said.text == "Saved: 55 mm at Fri 18 Dec 06:00."
    assert after.ripe[2] - after.ripe[0] < before.ripe[2] - before.ripe[0]
    assert re.search(r"Feed (once|twice|three times) more|No more feeds", page.answer.text), page.answer.text
    assert len(page.answer.text.split()) <= 30
    assert page.logbook.look.height.text == ""


def test_a_jar_written_down_as_fallen_was_ripe_before_the_look_even_below_its_start(kitchen):
    page = brought_back(kitchen)
    kitchen.wait(hours=15)
    look = page.logbook.look
    look.height.text, look.top.value = "28", "fallen"
    look.height.enters += 1
    after = page.underway(page.asked())
    assert after.ripe[2] < after.useful_looks[-1].at + pd.Timedelta(minutes=30)
    assert after.next_plan is not None
    assert not page.answer.trouble
    assert page.answer.text.startswith("Feed 1 was ripe about ")
    assert len(page.answer.text.split()) <= 30
    assert after.ledger().looks["label"].iloc[-1] == "fallen"


def test_a_jar_fallen_too_long_before_the_dough_is_not_told_to_wait(kitchen):
    page = brought_back(kitchen)
    page.form.mix.text = "18 Dec 18:00"
    kitchen.wait(hours=16)
    page.logbook.look.top.value = "fallen"
    page.logbook.save_look()
    assert re.search(r"No plan has the jar ready Fri 18:00: the likeliest in ", page.answer.text), page.answer.text
    assert len(page.answer.text.split()) <= 30
    assert "What would do: " in page.note.markup


def test_once_the_hour_of_the_dough_is_past_a_later_one_is_asked_for(kitchen):
    page = brought_back(kitchen)
    page.form.mix.text = "18 Dec 08:00"
    kitchen.wait(hours=16)
    page.logbook.look.top.value = "flat"
    page.logbook.save_look()
    said = page.answer.text
    assert said.startswith("Feed 1 was ripe about ")
    assert said.endswith("The hour of the dough is past: give a later one, and the next feed is planned.")
    assert len(said.split()) <= 30
    ledger = page.underway(page.asked()).ledger()
    assert not len(ledger.moments), "no dough stands where none is to come"
    assert ledger.looks["hours"].max() < ledger.axis.hours, "the look stands at its own hour"


def test_a_feed_without_grams_or_a_look_without_height_is_refused_and_stays(kitchen):
    page = kitchen.page()
    page.logbook.feed.seed.text = "20"
    page.logbook.save_feed()
    assert page.logbook.said.text.startswith("No flour is written down; a feed needs some.")
    assert page.logbook.feed.seed.text == "20"
    assert list(kitchen.folder.iterdir()) == []
    write_feed(page)
    page.logbook.save_look()
    assert page.logbook.said.text == "Height now is empty; the record needs it. Type it in."


def test_what_cannot_be_written_down_is_said_in_a_baker_s_words(kitchen):
    page = kitchen.page()
    said = page.logbook.said
    write_feed(page, at="23:00")
    assert said.text.startswith("Thu 3 Dec 23:00 is still to come;")
    write_feed(page, seed="")
    assert said.text == "Old starter is empty; the record needs it. Type it in."
    into_the_cold(kitchen)
    page = kitchen.page()
    said = page.logbook.said
    page.logbook.out.at.text = "20:00"
    page.logbook.save_out()
    assert said.text.startswith("Out of the fridge: 03 Dec 20:00 is before it went in, 03 Dec 21:00;")
    kitchen.wait(days=14)
    page.logbook.out.at.text = "now"
    page.logbook.save_out()
    write_feed(page)
    write_feed(page)
    assert said.text.startswith("Feed 2: 17 Dec 21:00 is not after the feed before it, 17 Dec 21:00;")
    for when, why in (
        ("17 Dec 20:00", "The look: 17 Dec 20:00 is before its feed"),
        ("now", "Saved"),
        ("now", "A look at 21:00 is"),
    ):
        page.logbook.look.height.text, page.logbook.look.at.text = "30", when
        page.logbook.save_look()
        assert said.text.startswith(why), said.text


def test_the_last_entry_can_be_taken_back(kitchen):
    page = into_the_cold(kitchen)
    page.logbook.take_back()
    record = Experiment.open(kitchen.folder / "my-starter")
    assert standing(record).stage is Stage.FED
    assert page.logbook.said.text == "Taken back: into the fridge."
    assert page.logbook.undo.label == "Take back: the last feed"
    assert page.logbook.hold.layout.display is None


def test_ordinary_feeds_go_to_the_culture_at_home(kitchen):
    page = kitchen.page()
    page.logbook.feed.kind.value = ORDINARY
    write_feed(page, height="40", rye="10")
    record = Experiment.open(kitchen.folder / "my-starter")
    assert record.feeds[["jar", "kind", "bread_g", "rye_g"]].to_numpy().tolist() == [
        ["in form", "baseline", 60.0, 10.0]
    ]
    assert standing(record).stage is Stage.AT_HOME
    assert page.logbook.look.layout.display is None


def test_the_plan_a_jar_comes_out_with_is_kept_once(kitchen):
    page = brought_back(kitchen)
    saved = saved_plans(Experiment.open(kitchen.folder / "my-starter"))
    assert set(saved["jar"]) == {"2026-12-03"}
    assert saved["file"].nunique() == 1
    assert page.logbook.experiment.check() == []


def test_years_of_holidays_change_what_the_page_takes_the_culture_for(kitchen):
    three_years(kitchen.folder)
    page = kitchen.page()
    pace = page.asked().culture.pace
    assert pace.source == "the culture's own record"
    # The invented kitchen runs at pace 1 and c 1.4; four feeds, looked at hourly, tell them this well.
    assert abs(pace.middle - 1) < 0.25
    assert pace.sd < 0.2
    page.record.unfolded = True
    assert page.record.markup.count("recovered at feed") == 3
    assert "no holiday counts yet" not in page.record.markup
    cells = re.findall(r"<td>([\d.]+ \([\d.]+ to [\d.]+\))</td>", page.record.markup)
    assert len(cells) == 12, "prior, counts and both for four feeds"


def test_what_the_record_says_is_text_only(kitchen):
    page = brought_back(kitchen)
    page.logbook.end.note.text = NASTY
    page.logbook.save_end()
    page.record.unfolded = True
    assert "0 of 3 ordinary feeds seen to their peak" in page.record.markup
    assert "no holiday counts yet" in page.record.markup
    for shown in (page.record.markup, page.logbook.heading.markup, page.note.markup, page.warned.markup):
        assert "<script" not in shown


def test_a_damaged_record_is_named_and_nothing_is_begun_beside_it(kitchen):
    into_the_cold(kitchen)
    feeds = kitchen.folder / "my-starter" / "feeds.csv"
    feeds.write_text(feeds.read_text(encoding="utf-8").replace(",20,", ",twenty,"), encoding="utf-8")
    page = kitchen.page()
    assert page.logbook.said.trouble
    assert "twenty" in page.logbook.said.text
    assert not page.answer.trouble
    write_feed(page)
    assert "twenty" in page.logbook.said.text
    assert [path.name for path in kitchen.folder.iterdir()] == ["my-starter"]
