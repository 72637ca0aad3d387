"""The page of the way back without a browser: what it answers, refuses, hands over and plans again."""

from __future__ import annotations

import copy
import json
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import icalendar
import numpy as np
import pandas as pd
import pytest
from tests.charts.invented import two_feeds

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows
from fallow.panels.bring_back import words
from fallow.panels.bring_back.page import BringBackPage
from fallow.panels.bring_back.picture import ledger_of
from fallow.panels.bring_back.stood import as_it_went
from fallow.panels.controls.cultures import Cultures
from fallow.plans.bring_back import bring_back
from fallow.plans.cautions import LOOKS_DISAGREE
from fallow.plans.clock import after
from fallow.plans.look import Top, stands_at
from fallow.plans.put_away import put_away
from fallow.plans.saved import save_plan
from fallow.records.experiment import Experiment

ROOT = Path(__file__).resolve().parent.parent.parent
NOW = datetime(2026, 5, 15, 17, 0, tzinfo=UTC)
LATER = datetime(2026, 5, 16, 16, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def drawn_once():
    """The picture's dress: it is the same for every page, and takes most of a page's second."""
    return dressed_with(ledger_rows(two_feeds())).to_dict()


@pytest.fixture(autouse=True)
def quick(drawn_once, monkeypatch):
    """Dress the picture once for all pages; what it is fed with is each page's own."""
    dress = SimpleNamespace(to_dict=lambda **_: copy.deepcopy(drawn_once))
    monkeypatch.setattr("fallow.panels.bring_back.page.dressed_with", lambda _rows: dress)


@pytest.fixture
def page(tmp_path):
    """A page on a Friday evening in Berlin, over a folder without experiments."""
    return BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")


@pytest.fixture
def trial(tmp_path):
    """A copy of the invented trial."""
    return Path(shutil.copytree(ROOT / "experiments" / "harbour-rota", tmp_path / "harbour-rota"))


def looked(
    page, *, at="2026-05-16 15:00", start="50", height="60", fed="", top="not said", stands="by the hours", now=LATER
):
    page.form.now = lambda: now
    box = page.look_box
    box.fed.text, box.top.value, box.stands.value = fed, top, stands
    box.at.text, box.start.text, box.height.text = at, start, height
    box.take.presses += 1


def events(page):
    read = icalendar.Calendar.from_ical(page.papers.calendar_text())
    return {str(event["uid"]): event for event in read.walk("VEVENT")}


def test_the_page_shows_the_plan_of_the_library(page):
    plan = bring_back(
        home_at=NOW,
        mix_at="2026-05-17T09:00",
        time_zone="Europe/Berlin",
        places={"kitchen": (22, 19), "warm box": 27},
    )
    pd.testing.assert_frame_equal(page.held().feeds, plan.feeds)
    assert page.held().ready_chance == plan.ready_chance


def test_the_answer_has_hours_with_both_ends_a_chance_and_at_most_thirty_words(page):
    answered = 0
    for mix in ("2026-05-16 21:00", "2026-05-17 09:00", "2026-05-18 18:00"):
        page.form.mix.text = mix
        for days in (1, 21, 60, 120):
            page.form.days.value = days
            said = page.answer.text
            assert len(said.split()) <= 30, said
            if not page.held().reason:
                answered += 1
                assert re.search(r"Ripe about .+ \(.+ to .+\); ready at \d\d:\d\d in \d+ of 10+ jars", said)
    assert answered >= 8


def test_the_table_holds_every_gram_hour_and_temperature_of_the_plan(page):
    shown = words.table(page.held()).set_index("")
    for (_, row), feed in zip(page.held().feeds.iterrows(), page.held().weighed, strict=True):
        column = shown[f"feed {row['feed']}"]
        assert column["seed"] == f"{feed.seed_g:g} g of {'the old jar' if row['feed'] == 1 else 'feed 1'}"
        assert column["water"] == f"{feed.water_g:g} g at {row['water_temp_c']:.0f} °C"
        assert column["bread flour"] == f"{feed.flours_g['bread']:g} g"
        assert column["feed at"] == f"{row['at']:%a %-d %b %H:%M}"
        act = next(act for act in page.held().acts if act.key == f"feed {row['feed']}")
        assert act.text.startswith(f"Water at {row['water_temp_c']:.0f} °C. Then in the kitchen."), "as in the table"
        assert column["stands in"] == "kitchen, 22 °C by day and 19 °C by night", "as the picture above it has it"
        assert column["not later than"].endswith(f"{row['latest']:%H:%M}")
    assert f"Flour {page.held().flour_g:g} g in all; {page.held().discard_g:g} g" in page.feeds.markup
    assert any(said.startswith("Rounding to 1 g moves a feed by at most") for said in page.numbers())
    page.rests.unfolded = True
    assert "Rounding to 1 g moves a feed by at most" in page.rests.markup


def test_the_picture_s_diamonds_are_the_plan_s_ripe_hours_and_its_layers_the_law_s(page):
    ledger, plan = ledger_of(page.followed), page.held()
    for (_, row), drawn, feed in zip(plan.feeds.iterrows(), ledger.feeds.itertuples(), plan.weighed, strict=True):
        at = ledger.axis.start + pd.Timedelta(hours=drawn.at_hours)
        ripe = ledger.axis.start + pd.Timedelta(hours=drawn.ripe_hours)
        assert at == row["at"]
        assert abs(ripe - row["ripe_at"]) < pd.Timedelta(seconds=2)
        assert drawn.dilution_doublings == pytest.approx(feed.doublings)
        line = ledger.earned[ledger.earned["feed"] == drawn.feed]
        needed = drawn.dilution_doublings + drawn.owed_doublings + drawn.ripening_doublings
        assert np.interp(drawn.ripe_hours, line["hours"], line["yeast"]) == pytest.approx(needed, abs=0.25)
    assert ledger.moments["label"].tolist() == ["dough 09:00"]
    rows = ledger_rows(ledger)
    assert {row["what"] for row in rows.data["needs"]} == {"dilution", "owed from the cold", "to visibly ripe"}
    assert rows.data["asleep"]


def test_a_wish_that_cannot_be_met_says_why_and_a_button_takes_the_nearest_plan(page):
    page.form.mix.text, page.form.days.value = "21:00", 56
    assert page.answer.trouble
    assert "the last feed is not ripe yet" in page.answer.text
    wanted = page.held().nearest
    assert page.near[0].layout.display is None
    assert page.near[0].label.startswith("Dough at Sat ")
    page.near[0].presses += 1
    assert not page.answer.trouble
    assert page.held().sentence == wanted.sentence
    assert page.form.mix.text == f"{wanted.setting.mix:%Y-%m-%d %H:%M}"
    assert all(button.layout.display == "none" for button in page.near)
    before = page.answer.text
    page.refresh()
    assert page.answer.text == before, "the controls must ask for the very plan that was chosen"


@pytest.mark.parametrize(
    ("control", "text", "reason"),
    [
        ("flours", "", "There is no flour"),
        ("awake", "07:00 to 07:00", "No waking hour is given"),
        ("flour", "30", "flour"),
    ],
)
def test_nothing_to_feed_with_or_nobody_awake_is_a_reason_and_has_a_way_out(page, control, text, reason):
    getattr(page.form, control).text = text
    assert page.answer.trouble
    assert reason in page.answer.text
    page.near[0].presses += 1
    assert not page.answer.trouble


def test_above_28_it_warns_and_above_30_it_refuses(page):
    assert page.warned.markup == ""
    page.form.warm.text = "29"
    assert "Above 28 °C the yeast slows" in page.warned.markup
    assert not page.answer.trouble
    page.form.warm.text = "31"
    assert page.answer.trouble
    assert "at most 30 °C" in page.answer.text
    assert page.chart.update["data"]["needs"] == []
    page.form.warm.text = ""
    assert not page.answer.trouble
    assert [place.name for place in page.held().setting.places] == ["kitchen"]


def test_a_box_that_cannot_be_read_is_named_and_stays(page):
    page.form.ripe.text = "a lot"
    assert page.answer.trouble
    assert page.answer.text == page.form.ripe.message
    page.form.ripe.text = ""
    assert page.answer.text == "Ripe starter for the dough is empty; a plan needs it. Type it in."
    page.form.ripe.text = "200"
    assert not page.answer.trouble


def test_cautions_stand_on_the_page(page):
    page.form.mix.text = "2026-05-16 13:00"
    assert "warm box" in page.held().feeds["place"].tolist()
    for said in (
        "Raw flour",
        "Never screw or clamp the lid",
        "Mould, pink, orange",
        "improvised warm place",
        "food-safety",
    ):
        assert said in page.note.markup


def test_a_look_below_the_forecast_makes_the_feed_later_and_stands_in_the_picture(page):
    first = ledger_of(page.followed).feeds.iloc[0]
    first_ripe = ledger_of(page.followed).axis.start + pd.Timedelta(hours=first["ripe_hours"])
    looked(page, height="60")
    assert re.fullmatch(
        r"Planned again from your look at Sat 15:00: feed 1 is ripe about \w+ \d\d:\d\d \(.+ to .+\)\.",
        page.look_box.said.text,
    )
    ledger = ledger_of(page.followed)
    ripe = ledger.axis.start + pd.Timedelta(hours=ledger.feeds.iloc[0]["ripe_hours"])
    assert ripe > first_ripe
    assert ledger.feeds["feed"].tolist()[:2] == ["feed 1", "feed 2"]
    (mark,) = ledger.looks.itertuples()
    assert mark.label == "look 15:00"
    # (60 - 50)/(125 - 50) of the rise at a rise of 2.5 is log2(7.5) doublings before the peak.
    needed = ledger.feeds[["dilution_doublings", "owed_doublings", "ripening_doublings"]].iloc[0].sum()
    assert needed - mark.doublings == pytest.approx(np.log2(7.5), abs=0.1)


def test_a_jar_that_may_have_fallen_is_asked_about_and_one_that_has_was_ripe_before_the_look(page):
    """The reader's case: fed sixteen hours ago, 48 mm from 40: nine hours to go, or long past its peak?"""
    before = page.answer.text
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", start="40", height="48")
    assert page.look_box.said.trouble
    assert "it may be slow, or it may have fallen" in page.look_box.said.text
    assert page.answer.text == before
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", start="40", height="48", top="fallen")
    assert "feed 1 was ripe about Sat " in page.look_box.said.text
    standing = ledger_of(page.followed)
    assert standing.looks["hours"].iloc[0] > standing.feeds["ripe_hours"].iloc[0]
    told = page.answer.text
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", start="", height="", top="fallen")
    assert page.answer.text == told
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", start="40", height="35", top="fallen")
    assert page.answer.text == told
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", start="40", height="48", top="domed")
    assert "feed 1 is ripe about " in page.look_box.said.text


def test_a_fallen_jar_is_still_fallen_when_the_plan_is_taken_up_again(page, tmp_path):
    looked(page, at="2026-05-16 17:30", fed="2026-05-16 01:30", height="", start="", top="fallen")
    later = BringBackPage(tmp_path, now=lambda: LATER, time_zone="Europe/Berlin")
    later.resume.presses += 1
    assert [look.top for look in later.followed.looks] == [Top.FALLEN]
    assert later.answer.text == page.answer.text


def test_flour_that_lacks_is_said_above_the_feeds_and_a_button_says_how_much_it_takes(page):
    page.form.flour.text = "0"
    assert "This plan would be ready in 9" in page.feeds.markup
    assert "only the flour is short:" in page.feeds.markup
    takes = f"With {page.held().flour_g:g} g of flour in the house."
    assert page.near[0].label.startswith(takes)
    page.near[0].presses += 1
    assert not page.answer.trouble
    assert page.form.flour.text == f"{page.held().flour_g:g}"


@pytest.mark.parametrize(("mix", "days", "flour"), [("21:00", 56, ""), ("2026-05-17 09:00", 21, "50")])
def test_a_plan_that_does_not_fit_says_so_in_the_first_line_of_its_papers(page, mix, days, flour):
    page.form.mix.text, page.form.days.value, page.form.flour.text = mix, days, flour
    said = f"Mind: {page.held().reason}"
    assert f"</h1>\n<p>{said}</p>\n<table>" in page.papers.sheet_html()
    assert all(str(event["description"]).startswith(said) for event in events(page).values())


def test_no_message_of_the_page_names_an_argument(page):
    page.form.mix.text = "2026-05-15 18:00"
    assert page.answer.text.startswith("Dough is to be mixed Fri 15 May 18:00; that must come after you can feed")
    page.form.mix.text = "2026-05-17 09:00"
    page.look_box.at.text, page.look_box.start.text, page.look_box.height.text = "now", "50", "60"
    page.look_box.take.presses += 1
    assert page.look_box.said.text.startswith("You looked Fri 15 May 19:00, and the first feed is planned for")


def test_looks_follow_each_other_and_are_forgotten_on_wish(page):
    before = page.answer.text
    looked(page, height="60")
    one = page.held()
    looked(page, at="2026-05-16 17:00", height="90")
    assert page.held().revision > one.revision
    assert "look 17:00" in ledger_of(page.followed).looks["label"].tolist()
    page.look_box.back.presses += 1
    assert page.answer.text == before
    assert page.followed.looks == ()


def test_a_moved_control_keeps_the_plan_from_the_look_aside(page):
    looked(page)
    from_look = page.answer.text
    page.form.days.value = 60
    assert page.followed.looks == ()
    assert "kept aside" in page.look_box.said.text
    page.form.days.value = 61
    page.look_box.back.presses += 1
    assert page.answer.text == from_look
    assert page.look_box.said.text.startswith("Planned again from your look at Sat 15:00")


def test_a_look_that_leaves_no_time_says_so_and_offers_later_dough(page):
    looked(page, height="52")
    assert page.answer.trouble
    assert ledger_of(page.followed).feeds["feed"].tolist() == ["feed 1"]
    page.near[0].presses += 1
    assert not page.answer.trouble
    assert page.held().setting.mix > pd.Timestamp("2026-05-17T09:00+02:00")
    assert [look.height for look in page.followed.looks] == [52]


def test_a_look_typed_again_takes_the_place_of_the_one_before(page):
    looked(page, height="60")
    wanted = page.answer.text
    looked(page, height="110")
    assert page.answer.text != wanted
    looked(page, height="60")
    assert page.answer.text == wanted
    assert len(page.followed.plans) == 2


def test_a_feed_made_later_than_planned_stands_where_it_was_made(page, tmp_path):
    looked(page, height="65")
    as_planned = ledger_of(page.followed)
    looked(page, height="65", fed="16 May 2026 09:00")
    ledger = ledger_of(page.followed)
    assert ledger.axis.start + pd.Timedelta(hours=ledger.feeds["at_hours"].iloc[0]) == pd.Timestamp(
        "2026-05-16T09:00+02:00"
    )
    # The same height after two hours less: the culture owes less than was thought.
    assert ledger.feeds["owed_doublings"].iloc[0] < as_planned.feeds["owed_doublings"].iloc[0]
    assert len(page.followed.plans) == 2
    later = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    later.resume.presses += 1
    assert later.answer.text == page.answer.text


def test_a_feed_made_after_the_look_is_refused(page):
    looked(page, fed="2026-05-16 16:00")
    assert page.look_box.said.text.startswith("The feed was made at Sat 16 May 16:00; that must be before the look")


def test_a_feed_that_waits_in_the_cold_is_a_mark_a_row_and_both_stories(page):
    page.form.mix.text, page.form.awake.text, page.form.chance.text = "2026-05-17 20:00", "19:00 to 21:00", "70"
    page.form.night.value = 20
    assert page.held().trips == 1
    marks = ledger_of(page.followed).moments["label"].tolist()
    assert any(mark.startswith("to the cold ") for mark in marks)
    assert "to the cold at" in page.feeds.markup
    assert re.search(r"\(cold Sun \d\d:\d\d\)\. .+ in \d+ of 100 jars by creep, \d+ by stop\.", page.answer.text)
    assert len(page.answer.text.split()) <= 30
    assert "Nobody knows which holds in your fridge" in page.feeds.markup


@pytest.mark.parametrize(
    ("at", "start", "height", "reason"),
    [
        ("2026-05-15 19:30", "50", "60", "the first feed is planned for Sat 16 May 07:00: no feed stands yet"),
        (
            "2026-05-16 21:00",
            "50",
            "60",
            "Sat 16 May 21:00 is still to come; a look can only be at the jar as it stood",
        ),
        ("2026-05-16 15:00", "40", "35", "lower than the 40 right after its feed; only a fallen one does"),
        ("2026-05-16 15:00", "", "60", "Height right after the feed is empty"),
        ("soon", "50", "60", "is no time"),
    ],
)
def test_a_look_that_means_nothing_is_refused_and_changes_nothing(page, at, start, height, reason):
    before = page.answer.text
    looked(page, at=at, start=start, height=height)
    assert page.look_box.said.trouble
    assert reason in page.look_box.said.text
    assert page.answer.text == before


def test_the_calendar_of_a_plan_made_again_moves_the_same_events_and_keeps_those_that_are_done(page):
    first = events(page)
    assert {uid.split("-", 1)[1] for uid in first} == {
        "feed-1@fallow", "look-1@fallow", "feed-2@fallow", "look-2@fallow", "dough@fallow"
    }  # fmt: skip
    looked(page, height="55")
    second = events(page)
    assert set(first) <= set(second)
    done = next(uid for uid in first if "feed-1" in uid)
    assert second[done]["dtstart"].dt == first[done]["dtstart"].dt
    assert str(second[done]["status"]) == "CONFIRMED"
    (before,), (after,) = ({int(event["sequence"]) for event in some.values()} for some in (first, second))
    assert after > before
    dough = next(uid for uid in first if "dough" in uid)
    assert str(second[dough]["status"]) == "CONFIRMED"


def test_events_begin_at_the_instants_of_the_plan(page):
    mix = next(event for uid, event in events(page).items() if "dough" in uid)
    assert mix["dtstart"].dt == datetime(2026, 5, 17, 7, 0, tzinfo=UTC)


def test_the_kitchen_sheet_names_the_jar_as_text_and_holds_what_is_still_to_do(page):
    page.form.jar.text = "<gull>"
    sheet = page.papers.sheet_html()
    assert "<title>&lt;gull&gt;: bring back, dough Sun 17 May 09:00</title>" in sheet
    assert "Feed 1: " in sheet
    looked(page)
    assert "Feed 1: " not in page.papers.sheet_html()
    assert "Feed 2: " in page.papers.sheet_html()


def test_without_a_plan_nothing_is_handed_over_and_the_reason_is_said(page):
    page.form.warm.text = "31"
    page.papers.sheet.presses += 1
    assert page.papers.sheet.trouble
    assert "There is no plan to go on from" in page.papers.sheet.message


def test_the_plan_is_saved_into_an_experiment_and_never_over_another(trial, page, tmp_path):
    page.keep.save()
    assert "No experiment is chosen" in page.keep.said.text
    page.keep.experiment.value = "harbour-rota"
    page.keep.jar.value = "J001"
    page.keep.save()
    page.keep.save()
    assert page.keep.said.text == "Saved as plans/2026-05-15-J001-2.json in harbour-rota."
    saved = sorted((tmp_path / "harbour-rota" / "plans").glob("*.json"))
    assert [path.name for path in saved] == ["2026-05-15-J001-1.json", "2026-05-15-J001-2.json"]
    assert json.loads(saved[0].read_text(encoding="utf-8"))["jar"] == "J001"


def test_what_a_saved_put_away_plan_says_is_owed_takes_the_place_of_days_and_shelf(trial, tmp_path):
    plan = put_away(
        leave_at="2026-04-20T18:00+02:00",
        return_at="2026-05-15T19:00+02:00",
        kitchen_temp_c=22,
        fridge_temp_c=4,
        flours={"bread": 1.0},
        flour_g=100,
    )
    save_plan(Experiment.open(trial), plan, jar="J001", made_at=NOW)
    page = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    page.form.took.value = "as planned for J001 (harbour-rota)"
    owed, said = page.held().setting, plan.owed_doublings
    assert owed.owed_mean == pytest.approx(said.estimate)
    before = page.answer.text
    page.form.days.value = 120
    assert page.answer.text == before
    page.form.took.value = page.form.took.options[0]
    assert page.answer.text != before


@pytest.mark.parametrize("text", ["{", "[]", '{"kind": "put away"}'])
def test_a_damaged_plan_file_is_said_and_does_not_stop_the_page(trial, tmp_path, text):
    (trial / "plans").mkdir()
    (trial / "plans" / "torn.json").write_text(text, encoding="utf-8")
    page = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    assert not page.answer.trouble
    assert "harbour-rota: plans/torn.json is no saved plan" in " ".join(page.numbers())
    page.keep.experiment.value = "harbour-rota"
    assert page.keep.said.trouble
    assert "plans/torn.json is no saved plan" in page.keep.said.text
    assert "J001" in page.keep.jar.options


def test_a_culture_on_record_brings_its_own_pace_flours_and_words(trial, tmp_path):
    page = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    assert "our choice: pace 1" in " ".join(page.numbers())
    page.form.culture.value = "fulmar (harbour-rota)"
    known = Cultures.of(tmp_path).known("fulmar (harbour-rota)")
    assert page.held().setting.culture == known.fed(known.flours)
    assert known.fed(known.flours).carried is not None
    assert known.told_of(known.flours) in page.numbers()
    assert page.held().setting.culture.pace.middle != 1.0
    assert set(page.held().setting.flours) == set(known.flours)
    assert "invented data" in " ".join(page.numbers())
    page.hold_on()
    later = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    later.resume.presses += 1
    assert later.answer.text == page.answer.text
    assert later.form.culture.value == "fulmar (harbour-rota)"


def test_how_often_such_plans_came_true_is_one_click_away(page):
    assert page.past.markup == ""
    page.past.unfolded = True
    assert "1,500 made-up households" in page.past.markup
    assert "<td>85 to 95</td>" in page.past.markup
    assert "places 1 °C colder" in page.past.markup


def test_a_warm_box_and_a_shelf_in_fahrenheit_are_planned_in_celsius(page):
    page.form.warm.text, page.form.shelf.text = "80 F", "39 °F"
    _, box = page.held().setting.places
    assert (box.day_c, page.held().setting.fridge_temp_c) == (26.7, 3.9)
    assert page.form.warm.shown == "read as 26.7 °C"
    page.form.warm.text = "80"
    assert page.answer.trouble
    assert "If this was Fahrenheit, write 80 °F" in page.answer.text


def test_beyond_the_chosen_record_the_page_says_that_it_is_a_guess(trial, tmp_path):
    """The record of the invented trial: holds up to 56 days, fridges at 3 to 7 degC; a guess past 1.5 times 56 days."""
    page = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    page.form.days.value = 120
    assert "guess" not in page.warned.markup
    page.form.culture.value = "fulmar (harbour-rota)"
    assert "This is a guess. The longest hold on record is 56 days." in page.warned.markup
    page.form.days.value = 84
    assert page.warned.markup == ""
    page.form.shelf.text = "9"
    assert "This is a guess. The fridges on record were at 3 to 7 °C." in page.warned.markup
    page.form.days.value = 85
    assert "The longest hold on record is 56 days.</p>" in page.warned.markup
    assert page.warned.markup.count("This is a guess.") == 1
    assert "This is a guess. The longest hold on record is 56 days." in page.papers.sheet_html()
    experiment = Experiment.open(trial)
    away = put_away(leave_at="2026-05-01T18:00+02:00", return_at=NOW, kitchen_temp_c=22, fridge_temp_c=4)
    save_plan(experiment, away, jar="J001")
    later = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    later.form.culture.value = "fulmar (harbour-rota)"
    later.form.days.value = 120
    later.form.took.value = "as planned for J001 (harbour-rota)"
    assert later.warned.markup == "", "a put-away plan's debt takes the place of the days"
    on_return = later.held().setting.owed_mean
    later.form.home.text, later.form.mix.text = "25 May 2026 19:00", "27 May 2026 09:00"
    assert later.held().setting.owed_mean > on_return + 0.2, "ten days late"


def test_the_zone_of_the_kitchen_moves_the_hours_that_were_typed(tmp_path, monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    page = BringBackPage(tmp_path, now=lambda: NOW)
    page.form.zone.browser = "America/St_Johns"
    assert page.form.mix.value.isoformat() == "2026-05-17T09:00:00-02:30"
    assert page.held().setting.mix.isoformat() == "2026-05-17T09:00:00-02:30"


def test_seven_controls_and_the_rest_under_more(page):
    assert len(page.children[1].children) == 7
    assert page.children[2].inside.layout.display == "none"


def test_a_plan_in_hand_is_taken_up_again_with_its_looks_after_the_kernel_ended(page, tmp_path):
    assert page.resume.layout.display == "none"
    page.form.days.value, page.form.jar.text = 30, "gull"
    looked(page, height="58")
    handed = events(page)
    later = BringBackPage(tmp_path, now=lambda: datetime(2026, 5, 16, 16, 0, tzinfo=UTC), time_zone="Europe/Berlin")
    assert later.resume.label == "Go on with your plan: dough Sun 17 May 09:00"
    later.resume.presses += 1
    assert later.answer.text == page.answer.text
    assert (later.form.days.value, later.form.jar.text, later.resume.layout.display) == (30, "gull", "none")
    assert [look.height for look in later.followed.looks] == [58]
    assert later.held().identity == page.held().identity
    assert int(next(iter(events(later).values()))["sequence"]) > int(next(iter(handed.values()))["sequence"])
    over = BringBackPage(tmp_path, now=lambda: datetime(2026, 5, 18, 16, 0, tzinfo=UTC), time_zone="Europe/Berlin")
    assert over.resume.layout.display == "none"


def test_a_plan_in_hand_that_cannot_be_read_is_said_and_does_not_stop_the_page(page, tmp_path):
    page.hold_on()
    drafts = tmp_path / ".fallow" / "drafts.json"
    drafts.write_text(drafts.read_text(encoding="utf-8").replace("looks", "books"), encoding="utf-8")
    later = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    assert "cannot be read" in later.keep.said.text
    assert not later.answer.trouble


def test_what_is_beyond_the_picture_has_no_mark_at_its_edge(page):
    page.form.mix.text, page.form.warm.text, page.form.kitchen.value, page.form.night.value = "20:00", "", 14, 14
    assert page.held().reason
    assert ledger_rows(ledger_of(page.followed)).data["ripe"] == []
    assert page.feeds.markup.startswith("<p>The likeliest plan there is, and it is not likely enough:</p>")


def test_a_jar_flat_soon_after_its_feed_is_not_taken_for_one_past_its_peak(page):
    before = page.answer.text
    looked(page, at="2026-05-16 08:00", start="", height="", top="flat")
    assert page.look_box.said.trouble
    assert page.look_box.said.text == words.TOO_SOON
    assert page.answer.text == before


def test_a_feed_that_is_due_at_the_hour_of_the_look_stands_on_the_sheet(page):
    looked(page, start="", height="", top="fallen")
    assert page.held().feeds["at"].iloc[0] == pd.Timestamp("2026-05-16T15:00+02:00")
    assert f"Feed 2: {page.held().weighed[0].seed_g:g} g seed" in page.papers.sheet_html()


def test_a_finer_scale_that_was_taken_stands_in_its_box(page):
    page.form.scale.value, page.form.old_jar.text = "5 g", "40"
    assert page.near[0].label.startswith("With a scale that reads to 1 g.")
    page.near[0].presses += 1
    assert page.form.scale.value == "1 g"
    assert page.form.asked().plan().ready_chance == page.held().ready_chance


def test_less_starter_than_the_box_takes_is_not_offered(page):
    page.form.keep.text, page.form.scale.value, page.form.ripe.text, page.form.flour.text = "0", "0.1 g", "80", "6"
    assert page.held().reason.startswith("The plan needs ")
    for near in page.held().alternatives:
        page.form.ripe.text = f"{near.setting.wish.ripe_g:g}"
        assert not page.form.ripe.message


def test_a_later_dough_taken_after_a_look_is_the_same_plan_when_it_is_taken_up_again(page, tmp_path):
    looked(page, height="52")
    page.near[0].presses += 1
    later = BringBackPage(tmp_path, now=lambda: LATER, time_zone="Europe/Berlin")
    later.resume.presses += 1
    assert later.answer.text == page.answer.text
    pd.testing.assert_frame_equal(later.held().feeds, page.held().feeds)
    assert later.form.mix.value == page.form.mix.value


def test_a_feed_made_after_the_hour_of_its_trip_has_not_gone_to_the_cold(page):
    page.form.mix.text, page.form.awake.text, page.form.chance.text = "2026-05-17 20:00", "19:00 to 21:00", "70"
    page.form.night.value = 20
    plan = page.held()
    number = next(n for n, step in enumerate(plan.steps) if step.cold_at < np.inf)
    late = after(plan.setting.start, plan.steps[number].cold_at + 0.5)
    moved = as_it_went(plan, feed=None, fed=late, before=late + pd.Timedelta(hours=1))
    assert moved.steps[number].cold_at == np.inf
    standing = stands_at(moved, now=moved.steps[number].at + 1.0)
    assert standing.number == number + 1
    assert np.all(standing.grown > 0)
    assert standing.cold_at == np.inf


SUNDAY = datetime(2026, 5, 17, 5, 0, tzinfo=UTC)


def test_a_look_before_a_late_feed_is_not_one_at_the_feed_that_was_never_made(page):
    """Feed 1 was two hours late, and at 22:30 feed 2, due at 21:30, is not made: the jar that stands is feed 1."""
    due = [f"{at:%d %H:%M}" for at in page.held().feeds["at"]]
    assert due == ["16 07:00", "16 21:30"]
    look = {"at": "2026-05-16 22:30", "fed": "2026-05-16 09:00", "start": "40", "height": "72", "now": SUNDAY}
    before = page.answer.text
    looked(page, **look, top="domed")
    assert page.look_box.said.text == (
        "Feed 2 was due Sat 16 May 21:30, before this look. Choose the feed that stands: feed 2, or feed 1 if no other has been "
        "made since."
    )
    assert page.answer.text == before
    looked(page, **look, top="domed", stands="feed 1")
    assert page.look_box.said.text.startswith("Planned again from your look at Sat 22:30: feed 1 is ripe ")
    assert page.held().setting.feeds_done == 1
    assert [act.key for act in page.followed.acts if act.at <= pd.Timestamp("2026-05-16T22:29+02:00")] == [
        "feed 1",
        "look 1",
    ]
    base, number = page.followed.made_in(1)
    assert after(base.setting.start, base.steps[number].at) == pd.Timestamp("2026-05-16T09:00+02:00")


def test_without_an_hour_the_feed_named_was_made_as_planned_and_a_later_one_was_not(page):
    looked(page, at="2026-05-16 22:30", start="40", height="72", top="domed", stands="feed 1", now=SUNDAY)
    assert page.held().setting.feeds_done == 1
    looked(page, at="2026-05-16 15:00", stands="feed 2")
    assert (
        page.look_box.said.text
        == "Feed 2 is planned for Sat 16 May 21:30, after this look. Say when it was really made."
    )


def test_a_late_feed_1_is_not_taken_for_feed_2_when_it_is_named(page):
    late = {
        "at": "2026-05-17 02:00",
        "fed": "2026-05-16 18:00",
        "start": "40",
        "height": "72",
        "top": "domed",
        "now": SUNDAY,
    }
    looked(page, **late)
    assert page.held().setting.feeds_done == 2
    assert page.look_box.said.text.endswith(". If another feed stands, choose it.")
    looked(page, **late, stands="feed 1")
    assert page.held().setting.feeds_done == 1
    assert page.look_box.said.text.startswith("Planned again from your look at Sun 02:00: feed 1 is ripe ")
    assert "choose" not in page.look_box.said.text


def test_a_second_look_at_the_same_late_feed_goes_on_from_the_first(page):
    fed = {"fed": "2026-05-16 09:00", "start": "40", "stands": "feed 1"}
    looked(page, at="2026-05-16 14:00", height="46", **fed)
    first = page.held()
    looked(page, at="2026-05-16 17:00", height="54", **fed)
    assert len(page.followed.looks) == 2
    assert page.followed.plans[1] is first
    assert page.held().setting.feeds_done == 1
    alone = BringBackPage(page.folder, now=lambda: NOW, time_zone="Europe/Berlin")
    looked(alone, at="2026-05-16 17:00", height="54", **fed)
    assert page.held().course.source.grown.mean() != alone.held().course.source.grown.mean()


def test_the_feed_chosen_is_kept_with_the_plan_in_hand(page, tmp_path):
    looked(page, at="2026-05-16 22:30", start="40", height="72", top="domed", stands="feed 1", now=SUNDAY)
    later = BringBackPage(tmp_path, now=lambda: SUNDAY, time_zone="Europe/Berlin")
    later.resume.presses += 1
    assert later.answer.text == page.answer.text
    assert later.followed.looks[0].feed == 1


def test_which_feed_stands_is_asked_only_where_there_are_several(page):
    box = page.look_box.stands
    assert (box.options, box.layout.display) == (["by the hours", "feed 1", "feed 2"], None)
    page.form.days.value, page.form.ripe.text, page.form.mix.text = 1, "60", "2026-05-16 07:00"
    assert len(page.held().feeds) == 1
    assert box.layout.display == "none"


def test_now_is_when_it_is_asked_not_when_the_page_was_opened(page):
    """Left open overnight: a feed at seven in the evening of the day before can no longer be made."""
    assert page.held().setting.start == pd.Timestamp("2026-05-15T19:00+02:00")
    morning = datetime(2026, 5, 16, 6, 30, tzinfo=UTC)
    page.form.now = page.form.home._now = lambda: morning
    page.form.kitchen.value = 23
    assert page.held().setting.start == pd.Timestamp("2026-05-16T08:30+02:00")
    page.form.home.text = "2026-05-16 12:00"
    page.form.home._now = lambda: datetime(2026, 5, 16, 7, 0, tzinfo=UTC)
    page.form.kitchen.value = 22
    assert page.held().setting.start == pd.Timestamp("2026-05-16T12:00+02:00")


def test_a_bake_moved_by_a_day_leaves_no_old_alarms_and_another_jar_keeps_its_own(page):
    first = events(page)
    page.form.home.text, page.form.mix.text = "2026-05-16 07:00", "18 May 2026 09:00"
    second = events(page)
    gone = [event for uid, event in second.items() if uid in first]
    assert len(gone) == len(first)
    assert {str(event["status"]) for event in gone} == {"CANCELLED"}
    assert {str(event["status"]) for uid, event in second.items() if uid not in first} == {"CONFIRMED"}
    page.form.jar.text = "gull"
    third = events(page)
    assert not set(third) & (set(first) | set(second))
    over = datetime(2026, 5, 19, 6, 0, tzinfo=UTC)
    page.form.now = lambda: over
    page.form.home.text, page.form.mix.text = "2026-05-19 09:00", "21 May 2026 09:00"
    assert {str(event["status"]) for event in events(page).values()} == {"CONFIRMED"}, "that bake is over"


def test_a_look_that_hardly_any_culture_explains_is_said_beside_what_it_told(page):
    looked(page, at="2026-05-16 08:30", start="40", height="99", top="domed")
    assert page.look_box.said.text.endswith(LOOKS_DISAGREE)
    assert LOOKS_DISAGREE in page.note.markup
    looked(page, at="2026-05-16 08:30", start="40", height="42")
    assert LOOKS_DISAGREE not in page.note.markup + page.look_box.said.text
