"""Put away without a browser: what it says, what it refuses, what it hands on."""

from __future__ import annotations

import json
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

import icalendar
import numpy as np
import pandas as pd
import pytest

from fallow.panels.controls.cultures import DEFAULT, NOBODY, Cultures
from fallow.panels.controls.form import quietly
from fallow.panels.put_away import below
from fallow.panels.put_away.form import MEASURED
from fallow.panels.put_away.page import PutAwayPage
from fallow.plans.put_away import put_away
from fallow.records.experiment import Experiment

EXPERIMENTS = Path(__file__).parents[2] / "experiments"
NOW = datetime(2026, 12, 1, 9, 3, tzinfo=UTC)
FULMAR = "fulmar (harbour-rota)"


def fresh(folder=EXPERIMENTS):
    page = PutAwayPage(folder, now=lambda: NOW)
    page.form.zone.text = "Europe/Berlin"
    return page


@pytest.fixture(scope="module")
def kept():
    return fresh()


@pytest.fixture
def page(kept):
    """One page for all tests, put back to where it starts."""
    form = kept.form
    with quietly(form):
        form.leave.text, form.back.text = "tomorrow 18:00", "23 Dec 2026 18:00"
        form.culture.value = NOBODY
        form.kitchen.value, form.shelf.value, form.flour.value = 22, "middle shelf", 100
        for field, text in (
            (form.night, ""), (form.awake, "07:00 to 22:30"), (form.earliest, ""), (form.flours, "bread 80, rye 20"),
            (form.hydration, "100"), (form.jar_ml, ""), (form.jar, ""), (form.part, "40"), (form.owed, "0"),
            (form.zone, "Europe/Berlin"),
        ):  # fmt: skip
            field.text = text
        form.scale.value = "1 g"
    kept.refresh()
    kept.clear()
    kept.papers.handed = None
    return kept


def statuses(page):
    read = icalendar.Calendar.from_ical(page.papers.calendar_text()).walk("VEVENT")
    return {str(event["uid"]): str(event["status"]) for event in read}


def table(frame):
    return {row[0]: row[1:] for row in frame.itertuples(index=False)}


def test_it_starts_with_an_answer_whose_numbers_are_the_plans(page):
    plan = put_away(
        leave_at="2026-12-02T18:00+01:00", return_at="2026-12-23T18:00+01:00", kitchen_temp_c=22, fridge_temp_c=3.3
    )
    low, middle, high = (
        plan.chill_at + pd.Timedelta(days=days) for days in plan.hold.days_to_ripe_between["yeast", "creep"]
    )
    assert page.answer.text == (
        f"Feed {plan.feed_at:%a %H:%M}, chill {plan.chill_at:%H:%M}: ripe about {middle.day} Dec ({low.day} to {high.day} Dec) "
        "by creep, never by stop; then at best 2 feeds."
    )
    peak, clock = (row for _, row in plan.likely_feeds.iterrows())
    assert page.feeds.text == (
        f"In form again: {peak['feeds']} feeds, if each is left to its peak and repays all, which nobody has measured; "
        f"fed every 12 h, {clock['feeds']} ({clock['low']} to {clock['high']})."
    )
    assert not page.answer.trouble


@pytest.mark.parametrize(
    ("leave", "back", "shelf_c", "part"),
    [
        ("tomorrow 18:00", "23 Dec 18:00", 1.9, "40"),
        ("12 Dec 07:30", "3 Mar 2027 18:00", 7.0, "90"),
        ("12 Dec 07:30", "13 Dec 07:30", 0.0, "5"),
        ("in 2 hours", "1 Dec 2028 18:00", 12.0, "100"),
        ("25 Dec 06:30", "8 Jan 2027 18:00", 4.0, "60"),
        ("25 Dec 06:30", "8 Jan 2027 18:00", 8.2, "60"),
        ("25 Dec 06:30", "8 Feb 2027 18:00", -1.0, "50"),
    ],
)
def test_the_answer_has_both_ends_and_at_most_thirty_words(page, leave, back, shelf_c, part):
    form = page.form
    form.leave.text, form.back.text, form.part.text = leave, back, part
    form.shelf_c.value = shelf_c
    assert not page.answer.trouble, page.answer.text
    assert len(page.answer.text.split()) <= 30, page.answer.text
    both_ends = (
        r"ripe about .+ \(.+ to .+\) by creep|not within a year|about \d+ h \(\d+ to \d+\) by creep, \d+ by stop"
    )
    assert re.search(both_ends, page.answer.text), page.answer.text
    assert len(page.feeds.text.split()) <= 30, page.feeds.text


def test_460_days_away_do_not_read_like_an_hour_away(page):
    page.form.back.text = "7 Mar 2028 18:00"
    assert re.search(r"; then at best 2 feeds\.$", page.answer.text)
    assert re.search(r"fed every 12 h, \d+ \(\d+ to 1\d\)\.$", page.feeds.text), page.feeds.text


def test_a_record_that_says_what_ripe_feeds_leave_is_counted(page):
    page.form.culture.value = FULMAR
    plan = page.form.asked().plan
    peak, clock = (row for _, row in plan.likely_feeds.iterrows())
    assert plan.asked.culture.carried is not None
    assert f"; then {peak['feeds']} feeds ({peak['low']} to {peak['high']})." in page.answer.text
    assert "each left to its peak, by what such feeds left on record" in page.feeds.text
    assert len(page.answer.text.split()) <= 30
    assert len(page.feeds.text.split()) <= 30
    assert clock["feeds"] >= peak["feeds"]


@pytest.mark.parametrize("leave", ["now", "Now", "5 min ago", "in 3 min"])
def test_who_leaves_now_gets_a_feed_made_now(page, leave):
    page.form.leave.text = leave
    assert not page.answer.trouble, page.answer.text
    asked = page.form.asked()
    assert asked.plan.feed_at == pd.Timestamp("2026-12-01T10:05+01:00")
    assert asked.plan.chill_at == pd.Timestamp("2026-12-01T10:20+01:00")
    assert "of the rise can be done before you leave" in page.reason.text


def test_now_stays_now_while_the_page_stands_open():
    at = [NOW]
    page = PutAwayPage(EXPERIMENTS, now=lambda: at[0])
    page.form.zone.text = "Europe/Berlin"
    page.form.leave.text = "now"
    at[0] = NOW + pd.Timedelta(hours=3)
    page.form.kitchen.value = 23
    assert not page.answer.trouble, page.answer.text
    assert page.form.asked().plan.feed_at == pd.Timestamp("2026-12-01T13:05+01:00")


def test_an_hour_away_is_told_to_leave_the_jar_out(page):
    page.form.back.text = "tomorrow 19:00"
    said = page.answer.text
    assert re.fullmatch(
        r"Feed Wed \d\d:\d\d and leave it in the kitchen: back so soon, you find it unripe\. Ripe about Thu \d\d:\d\d "
        r"\(.+ to .+\); the cold takes nothing\.",
        said,
    ), said
    assert len(said.split()) <= 30
    assert page.feeds.text == ""
    assert "Put the jar in the cold" not in page.note.markup
    assert "owes on return" not in page.note.markup
    assert page.chart.update["data"]["ripe"]
    assert "back 19:00" in {row["text"] for row in page.chart.update["data"]["labels"]}
    page.pin()
    assert "not in the cold" in page.compared.markup
    assert "Feed, and leave it out" in page.papers.sheet_html()
    assert "in the cold" not in page.papers.calendar_text().replace("\r\n ", "").split("or put it in the cold then")[0]
    page.keep.experiment.value = "harbour-rota"
    page.keep.save()
    assert page.keep.said.trouble
    assert "no stay in the cold to save" in page.keep.said.text
    page.keep.experiment.value = page.keep.experiment.options[0]


def test_a_jar_unripe_on_return_is_told_to_finish_and_no_date_it_never_reaches(page):
    page.form.back.text = "6 Dec 18:00"
    asked = page.form.asked()
    finish = asked.plan.finish
    assert page.answer.text.endswith(
        f": unripe when you are back; let it finish, about {finish.hours:.0f} h ({finish.low_hours:.0f} to "
        f"{finish.high_hours:.0f}) by creep, {finish.stop_hours:.0f} by stop."
    )
    assert page.feeds.text.startswith("In form again: 1 feed, if the finished rise has repaid all")
    assert "counts only if you feed from it at once" in page.note.markup


def test_one_day_is_said_as_one(page):
    page.form.shelf_c.value = 12
    assert "after 1 day (" in page.note.markup
    assert "1 days" not in page.note.markup


def test_twenty_or_never_is_explained_only_where_it_is_said(page):
    assert "20+" not in page.feeds.text + page.note.markup
    page.form.kitchen.value = 14
    assert "20+" in page.feeds.text
    assert "20+ is 20 or never" in page.note.markup


def test_a_culture_taken_back_takes_its_flours_with_it(page):
    page.form.culture.value = FULMAR
    assert page.form.flours.text == "white 100"
    page.form.culture.value = NOBODY
    assert page.form.flours.text == "bread 80, rye 20"
    assert page.form.hydration.text == "100"


def test_what_a_baker_typed_stays_whatever_the_culture(page):
    page.form.flours.text = "spelt 100"
    page.form.culture.value = FULMAR
    assert page.form.flours.text == "spelt 100"
    page.form.culture.value = NOBODY
    assert page.form.flours.text == "spelt 100"
    page.form.flours.text = "bread 80, rye 20"


def test_a_better_way_that_costs_something_says_what(page):
    changes = below.better(page.form.asked().plan).set_index("change")
    assert re.search(r"only \d\d % of its growth done at chilling, not 40 %", changes.loc["chilled 2 h sooner", "but"])
    assert re.fullmatch(
        r"no change by creep, \d\.\d doublings more by stop", changes.loc["chilled 2 h sooner", "owed on return"]
    )


@pytest.mark.parametrize(
    ("box", "text", "said"),
    [
        (
            "back",
            "1 Dec 2026 18:00",
            "You are back Tue 1 Dec 2026 18:00, which is not after you leave, Wed 2 Dec 2026 18:00",
        ),
        ("earliest", "tomorrow 19:00", "The first hour to feed is Wed 2 Dec 2026 19:00, which is not before you leave"),
    ],
)
def test_no_name_of_an_argument_reaches_the_baker(page, box, text, said):
    getattr(page.form, box).text = text
    assert page.answer.text.startswith(said)
    assert "_" not in page.answer.text


def test_too_coarse_a_scale_is_refused_in_the_bakers_words(page):
    page.form.scale.value = "5 g"
    page.form.flour.value = 20
    assert page.answer.text.startswith("New flour is 20 g and the scale reads to 5 g")


def test_what_the_cold_takes_is_the_written_sum(page):
    # k = 0.0121 a day at 1 °C with Q10 6.2, and a lag of 0.7 (design.md 1): (0.7 + k days) / ln 2.
    asked = page.form.asked()
    rows = table(below.cold_and_return(asked.plan))
    taken = (0.7 + 0.0121 * 6.2 ** ((3.3 - 1) / 10) * asked.plan.days_held) / np.log(2)
    assert rows["of it: days in the cold"] == (f"{taken:.1f}", f"{taken:.1f}")
    creep, stop = rows["owes on return"]
    assert re.fullmatch(r"\d+\.\d doublings \(\d+\.\d to \d+\.\d\)", creep)
    assert float(stop.split()[0]) > float(creep.split()[0])


def test_days_past_ripe_and_days_to_ripe_make_up_the_stay(page):
    plan = page.form.asked().plan
    rows = below.cold_and_return(plan)
    ripe, past = rows.iloc[0]["creep"], rows.iloc[1]["creep"]
    assert int(re.match(r"after (\d+) days", ripe)[1]) + int(past) == pytest.approx(plan.days_held, abs=1)
    assert rows.iloc[1]["stop"] == "none"


def test_the_acts_carry_grams_and_hours(page):
    acts = below.acts(page.form.asked())
    assert list(acts["what"])[-1].startswith("Back")
    assert re.search(r"\d+ g seed, 100 g water, 80 g bread flour, 20 g rye flour", acts["how"].iloc[0])
    assert re.fullmatch(r"Wed 2 Dec \d\d:\d\d", acts["when"].iloc[0])


def test_flour_in_thirds_is_given_in_whole_grams(page):
    page.form.flours.text = "bread 2, rye 1"
    plan = page.form.asked().plan
    assert plan.feed.flours_g == {"bread": 67.0, "rye": 33.0}
    assert plan.feed.water_g == 100


def test_a_flour_too_little_to_weigh_is_left_out_and_none_at_all_is_refused(page):
    page.form.flours.text = "bread 1000, malt 1"
    assert page.form.asked().plan.feed.flours_g == {"bread": 100.0}
    page.form.flours.text = "bread 80, rye"
    assert page.answer.trouble
    assert page.answer.text == page.form.flours.message


def test_what_would_be_better_says_what_nobody_has_measured(page):
    changes = below.better(page.form.asked().plan)
    unknown = changes[changes["but"] == "not computed: no published number"]
    assert unknown["change"].tolist() == ["stiffer", "dried", "frozen"]
    assert set(unknown["ripe in the cold"]) == {""}
    known = changes.set_index("change")["ripe in the cold"]
    assert all(re.fullmatch(r"\d+ days later", known[name]) for name in ("leaner by half", "a shelf 2 °C colder"))


def test_beyond_four_weeks_the_reserve_comes_first_with_its_grams(page):
    assert "comes a reserve" not in page.note.markup
    page.form.back.text = "2 Jan 2027 18:00"
    shown = page.note.markup
    assert shown.index("first of all comes a reserve") < shown.index("Last feed before the cold")
    assert re.search(r"\d+ g of the fed starter", shown)


@pytest.mark.parametrize(
    ("box", "text", "said"),
    [
        ("leave", "yesterday 18:00", "is past"),
        ("leave", "soon", "soon"),
        ("leave", "", "You leave is empty"),
        ("back", "1 Dec 2026 18:00", "not after you leave"),
        ("awake", "03:00 to 03:00", "awake"),
        ("awake", "never", "no span of the day"),
        ("hydration", "", "Water is empty"),
        ("hydration", "12", "Water is 12"),
        ("part", "abc", "is not a number"),
        ("jar_ml", "3", "Jar is 3"),
        ("night", "33", "30 °C"),
        ("earliest", "tomorrow 19:00", "not before you leave"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_words_and_no_plan_stays_in_sight(page, box, text, said):
    field = getattr(page.form, box)
    before = field.text
    field.text = text
    assert page.answer.trouble
    assert said in page.answer.text
    assert page.note.markup == ""
    assert not any(page.chart.update["data"].values())
    assert field.text == text
    field.text = before
    assert not page.answer.trouble
    assert page.note.markup


def test_above_28_it_warns_and_above_30_it_plans_nothing(page):
    page.form.kitchen.value = 28.5
    assert "Kitchen is 28.5 °C: above 28 °C" in page.note.markup
    page.form.kitchen.value = 31
    assert page.answer.trouble
    assert "at most 30 °C" in page.answer.text


def test_too_little_time_before_leaving_is_said_with_what_to_do(page):
    page.form.leave.text = "in 2 hours"
    assert "feed earlier or in a warmer place" in page.reason.text
    page.form.leave.text = "tomorrow 18:00"
    assert page.reason.text == ""


def test_a_shelf_fills_in_its_temperature_and_a_hand_on_the_slider_says_so(page):
    page.form.shelf.value = "door"
    assert page.form.shelf_c.value == 5.2
    page.form.shelf_c.value = 4.4
    assert page.form.shelf.value == MEASURED
    assert page.form.asked().shelf_c == 4.4


def test_one_move_makes_one_plan(page):
    seen = []
    page.chart.observe(lambda change: seen.append(change), "update")
    try:
        page.form.shelf.value = "door"
        page.form.shelf_c.value = 4.1
        page.form.culture.value = FULMAR
        assert len(seen) == 3
    finally:
        page.chart.unobserve_all("update")


def test_a_culture_on_record_brings_its_pace_its_flour_and_its_fridges(page):
    before = page.answer.text
    page.form.culture.value = FULMAR
    assert page.answer.text != before
    assert page.form.flours.text == "white 100"
    assert "store fridge, mean of 121 readings" in page.form.shelf.options
    page.form.shelf.value = "store fridge, mean of 121 readings"
    logged = Experiment.open(EXPERIMENTS / "harbour-rota").temperatures
    assert page.form.shelf_c.value == round(logged.loc[logged["place"] == "store fridge", "temp_c"].mean(), 1)
    assert "invented data" in page.note.markup
    assert page.form.known.culture.pace.sd < DEFAULT.culture.pace.sd
    assert "guess" not in page.note.markup
    page.form.shelf_c.value = 9.0
    assert "This is a guess. The fridges on record were at 3 to 7 °C." in page.note.markup
    page.form.culture.value = NOBODY
    assert page.form.shelf.value == MEASURED
    assert page.form.known is DEFAULT


def test_up_to_four_plans_stand_side_by_side(page):
    for shelf in ("top shelf", "middle shelf", "door", "middle shelf"):
        page.form.shelf.value = shelf
        page.pin()
    assert re.findall(r"<th>([A-D])</th>", page.compared.markup) == ["A", "B", "C", "D"]
    assert "<td>1.9 °C</td>" in page.compared.markup
    assert "The same in all: leave Wed 2 Dec 18:00; back Wed 23 Dec 18:00; culture nobody" in page.compared.markup
    assert "<td>leave</td>" not in page.compared.markup
    page.pin()
    assert "Four plans stand here already" in page.compared.markup
    page.clear()
    assert page.compared.markup == ""


def test_a_jar_too_small_is_told(page):
    assert re.search(r"fills about \d+ ml: take a jar that holds more", page.note.markup)
    page.form.jar_ml.text = "300"
    assert "it would run over" in page.note.markup
    page.form.jar_ml.text = "1000"
    assert "your jar holds 1000 ml" in page.note.markup


def test_seven_controls_and_the_rest_under_more(page):
    assert len(page.children[0].children) == 7
    assert page.children[1].inside.layout.display == "none"


def test_the_cautions_are_always_there(page):
    for said in (
        "thermometer on the jar",
        "Raw flour",
        "Never screw or clamp the lid",
        "Mould",
        "local food-safety rules",
    ):
        assert said in page.note.markup


def test_the_calendar_holds_every_act_at_its_instant_and_is_moved_when_made_again(page):
    plan = page.form.asked().plan
    first = icalendar.Calendar.from_ical(page.papers.calendar_text()).walk("VEVENT")
    assert [event.decoded("dtstart") for event in first] == [act.at.tz_convert("UTC") for act in plan.acts]
    page.form.shelf.value = "door"
    page.form.kitchen.value = 19
    second = icalendar.Calendar.from_ical(page.papers.calendar_text()).walk("VEVENT")
    assert {str(event["uid"]) for event in second} == {str(event["uid"]) for event in first}
    assert min(int(event["sequence"]) for event in second) > max(int(event["sequence"]) for event in first)
    page.papers.handed = None
    third = icalendar.Calendar.from_ical(page.papers.calendar_text()).walk("VEVENT")
    assert min(int(event["sequence"]) for event in third) >= max(int(event["sequence"]) for event in first)
    assert page.papers.calendar.file_name == "put-away-2026-12-02.ics"


def test_a_warm_kitchen_is_warned_of_once(page):
    page.form.kitchen.value = 29
    assert page.note.markup.count("above 28 °C the yeast slows") == 1
    assert "Kitchen is 29 °C: above 28 °C" in page.note.markup
    assert "Above 28 °C" not in page.note.markup


def test_a_leave_moved_by_a_day_leaves_no_old_alarms(page):
    first = statuses(page)
    page.form.leave.text = "4 Dec 2026 18:00"
    second = statuses(page)
    assert {second[uid] for uid in first} == {"CANCELLED"}
    assert {status for uid, status in second.items() if uid not in first} == {"CONFIRMED"}
    page.form.jar.text = "gull"
    assert not set(statuses(page)) & set(second)


def test_the_kitchen_sheet_has_the_acts_and_takes_a_name_as_text_only(page):
    page.form.jar.text = "<b>Ada</b>"
    sheet = page.papers.sheet_html()
    assert "<b>Ada</b>" not in sheet
    assert "&lt;b&gt;Ada&lt;/b&gt;: put away, leaving Wed 2 Dec 18:00" in sheet
    assert "2 Dec: Put the jar in the cold" in sheet
    assert "23 Dec: Back" in sheet
    assert sheet.index("</table>") < sheet.index("<svg")
    assert page.answer.text in sheet
    assert page.feeds.text in sheet
    assert "http" not in sheet.replace("http://www.w3.org/", "")


def test_another_time_zone_moves_the_instants_and_not_the_clock(page):
    before = page.form.asked()
    page.form.zone.text = "America/St_Johns"
    after = page.form.asked()
    assert f"{after.leave:%H:%M}" == f"{before.leave:%H:%M}" == "18:00"
    assert after.leave - before.leave == pd.Timedelta(hours=4.5)
    page.form.zone.text = "Nowhere/Land"
    assert "is no time zone" in page.form.zone.message
    assert page.form.asked().leave == after.leave


def test_a_plan_is_saved_beside_the_record_and_never_over_another(tmp_path):
    shutil.copytree(EXPERIMENTS / "harbour-rota", tmp_path / "harbour-rota")
    page = fresh(tmp_path)
    keep = page.keep
    keep.save()
    assert keep.said.trouble
    assert "No experiment is chosen" in keep.said.text
    keep.experiment.value = "harbour-rota"
    assert keep.said.text == "No saved plan has been followed to a peak yet."
    keep.jar.value = "J112"
    keep.save()
    keep.save()
    assert not keep.said.trouble, keep.said.text
    saved = sorted((tmp_path / "harbour-rota" / "plans").glob("2026-12-01-J112-*.json"))
    assert len(saved) == 2
    assert json.loads(saved[0].read_text(encoding="utf-8"))["kind"] == "put away"
    assert Experiment.open(tmp_path / "harbour-rota").check() == []


def test_an_experiment_that_cannot_be_read_is_named_and_hides_no_other(tmp_path):
    shutil.copytree(EXPERIMENTS / "harbour-rota", tmp_path / "harbour-rota")
    shutil.copytree(EXPERIMENTS / "harbour-rota", tmp_path / "broken")
    (tmp_path / "broken" / "cultures.csv").write_text("what,is,this\n1,2\n", encoding="utf-8")
    cultures = Cultures.of(tmp_path)
    assert FULMAR in cultures.options
    assert len(cultures.troubles) == 1
    assert cultures.troubles[0].startswith("broken was left out")
    assert "broken was left out" in fresh(tmp_path).note.markup


def test_a_folder_without_experiments_still_plans(tmp_path):
    page = fresh(tmp_path)
    assert list(page.form.culture.options) == [NOBODY]
    assert not page.answer.trouble
