"""The trial book without a browser: what its cards say, what Enter writes, what comes back after a restart."""

from __future__ import annotations

import math
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from fallow.panels.record_a_trial.entries import read_flours, save_reading
from fallow.panels.record_a_trial.ledger import CultureNumbers, owed_before_last, ripe
from fallow.panels.record_a_trial.page import NEW, RecordATrial
from fallow.records.drafts import Page, read_drafts
from fallow.records.experiment import Experiment

ROOT = Path(__file__).resolve().parent.parent.parent
START = datetime(2026, 12, 3, 18, 0, tzinfo=UTC)
NASTY = '<script>alert(1)</script>=HYPERLINK("x")\u202e\u05d0\u05d1 🥖' + "x" * 10_000


class Kitchen:
    """A folder of experiments and a clock that is moved by hand."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.at = folder, START

    def page(self) -> RecordATrial:
        return RecordATrial(self.folder, now=lambda: self.at)

    def wait(self, **time: float) -> None:
        self.at += timedelta(**time)


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(tmp_path)


@pytest.fixture
def book(kitchen):
    record = Experiment.create(
        kitchen.folder / "mine", title="Mine", question="Does rye help?", time_zone="Europe/Berlin"
    )
    record.add_culture(culture="gull")
    for jar in ("A1", "B2"):
        record.add_jar(jar=jar, culture="gull", treatment="white")
        fed = {"seed_g": 50, "water_g": 50, "flours_g": {"bread": 50}, "place": "bench", "place_temp_c": 26}
        record.add_feed(jar=jar, feed=1, kind="baseline", at=START, **fed)
    return record


def typed(field, text, *, enter=False):
    """Do what the browser does: the text stands in ``typed`` first, then it is committed."""
    field.typed = text
    field.text = text
    field.enters += int(enter)


def card(page, jar="A1"):
    return next(one for one in page.grid.children if one.jar == jar)


def test_a_card_says_what_is_next_and_what_was_last(kitchen, book):
    kitchen.wait(hours=1)
    name, about, following, last = card(kitchen.page()).heading.lines
    # A 1:1:1 feed at 26 °C peaks at about 5 h (common practice, no source): fed 19:00 in Berlin, so about midnight.
    assert (name, about) == ("A1", "gull · white")
    assert following.startswith("Next: look tomorrow about 00:00; ripe then (22:40 to")
    assert last == "Feed 1, in form, 19:00; no look since."


def test_height_and_enter_save_a_look_now_and_the_next_card_takes_the_keyboard(kitchen, book):
    page = kitchen.page()
    kitchen.wait(minutes=90, seconds=7)
    first, second = card(page), card(page, "B2")
    typed(first.height, "47,5", enter=True)
    row = book.readings.iloc[0]
    assert (row["jar"], row["feed"], row["height"]) == ("A1", 1, 47.5)
    assert row["at_text"] == "2026-12-03T20:30:07+01:00"
    assert first.answer.text == "Saved: 47.5 mm for A1, feed 1, Thursday 3 Dec 2026, 20:30:07 (UTC+01:00)."
    assert (first.height.text, first.at.text, second.height.wants_keyboard) == ("", "now", True)
    assert "last look 47.5 mm, 20:30 (just now)" in first.heading.lines[3]
    assert read_drafts(book.folder, page=Page.TRIAL_BOOK) == {}


def test_an_enter_that_is_heard_before_its_text_saves_the_text(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=1)
    with first.height.hold_trait_notifications():
        first.height.enters += 1
        first.height.text = first.height.typed = "44"
    assert book.readings["height"].tolist() == [44.0]
    assert read_drafts(book.folder, page=Page.TRIAL_BOOK) == {}


def test_a_changed_time_is_shown_in_full_and_waits_for_a_second_enter(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=2)
    typed(first.height, "47")
    typed(first.at, "25 min ago", enter=True)
    assert first.at.shown == "Thursday 3 Dec 2026, 20:35 (UTC+01:00)"
    assert first.answer.text == "47, Thursday 3 Dec 2026, 20:35 (UTC+01:00): Enter again to save."
    assert not len(book.readings)
    first.at.enters += 1
    assert book.readings["at_text"].tolist() == ["2026-12-03T20:35:00+01:00"]


@pytest.mark.parametrize(
    ("height", "when", "why"),
    [
        ("", "now", "a look needs a height or a word"),
        ("4 7x", "now", "is not a number"),
        ("99999", "now", "it goes from 0 to 5000 mm"),
        ("47", "soon", "must name a day and an hour"),
        ("47", "", "is empty; a row needs its time"),
        ("47", "23:30", "is still to come"),
        ("47", "yesterday 22:15", "has no feed by then"),
    ],
)
def test_what_cannot_be_saved_stays_in_the_fields_with_the_reason(kitchen, book, height, when, why):
    first = card(kitchen.page())
    kitchen.wait(hours=1)
    typed(first.height, height)
    typed(first.at, when)
    first.save()
    assert first.answer.trouble
    assert why in first.answer.text
    assert (first.height.text, first.at.text) == (height, when)
    assert not len(book.readings)


def test_dome_bubbles_smell_and_ph_wait_behind_more(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=5)
    first.more.switch.presses += 1
    more = first.more.inside
    more.dome.value = "domed"
    typed(more.ph, "4,1")
    typed(more.smell, "apples", enter=True)
    row = book.readings.iloc[0]
    assert (row["dome"], row["ph"], row["smell"]) == ("domed", 4.1, "apples")
    assert row["height"] != row["height"]
    assert (more.dome.value, more.ph.text, more.smell.text) == ("not noted", "", "")


def test_past_its_peak_the_card_says_feed(kitchen, book):
    page = kitchen.page()
    for hours, height in ((0.1, "30"), (4, "70"), (3, "50")):
        kitchen.wait(hours=hours)
        typed(card(page).height, height, enter=True)
    assert card(page).heading.lines[2] == "Next: feed now; it is past its peak."
    assert card(page).heading.due_now


def test_a_feed_begins_with_the_grams_of_the_last_one(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=6)
    form = first.feed.unfold()
    assert (form.seed.text, form.flours.text, form.kind.value) == ("50", "50 bread", "in form")
    typed(form.seed, "20")
    typed(form.flours, "80 bread, 20 rye")
    form.save()
    assert form.answer.text.startswith("Saved: feed 2 of A1, Friday 4 Dec 2026, 01:00")
    fed = book.feeds.set_index(["jar", "feed"]).loc[("A1", 2)]
    assert (fed["seed_g"], fed["bread_g"], fed["rye_g"], fed["kind"]) == (20, 80, 20, "baseline")
    assert book.check() == []


def test_a_hold_from_the_first_jar_to_its_recovery(kitchen, book):
    page = kitchen.page()
    new = page.new_jar.unfold()
    typed(new.jar, "C3")
    new.save()
    three = card(page, "C3")
    assert three.heading.lines[2] == "Next: its first feed."
    form = three.feed.unfold()
    for field, text in ((form.seed, "20"), (form.water, "60"), (form.flours, "60 bread"), (form.place_c, "24")):
        typed(field, text)
    form.save()
    jar = three.about_jar.unfold()
    kitchen.wait(hours=3)
    typed(jar.put_away, "now")
    typed(jar.hold_c, "4")
    jar.hold_c.enters += 1
    assert jar.answer.text == "Into the cold Thursday 3 Dec 2026, 22:00 (UTC+01:00): Enter again to save."
    jar.hold_c.enters += 1
    assert three.heading.lines[2].startswith("In the cold for 0 min")
    kitchen.wait(days=21)
    typed(jar.out, "10 min ago")
    jar.save()
    assert three.heading.lines[2] == "Next: its first feed after the cold, now."
    assert form.kind.value == "after the cold"
    form.save()
    assert "Next: look tomorrow about" in three.heading.lines[2]
    assert book.feeds.loc[book.feeds["jar"] == "C3", "kind"].tolist() == ["last", "recovery"]
    jar.status.value = "done"
    jar.save()
    assert [one.jar for one in page.grid.children] == ["A1", "B2"]
    assert book.check() == []


def test_a_withdrawal_needs_its_reason_and_undo_takes_it_back(kitchen, book):
    page = kitchen.page()
    kitchen.wait(hours=1)
    typed(card(page).height, "470", enter=True)
    form = card(page).about_jar.unfold()
    form.what.value = form.what.options[1]
    form.withdraw()
    assert "The reason is empty" in form.answer.text
    typed(form.reason, "a zero too many")
    form.withdraw()
    assert not len(book.readings)
    assert book.table("readings", withdrawn=True)["withdrawn"].tolist() == ["a zero too many"]
    assert page.undo.button.label == "Undo: withdrawing look of A1, 470, 20:00"
    page.undo.press()
    assert page.undo.answer.text == "Taken back: withdrawing look of A1, 470, 20:00."
    assert book.readings["height"].tolist() == [470.0]
    page.undo.press()
    assert not len(book.table("readings", withdrawn=True))


def test_what_was_typed_is_there_again_and_means_the_hour_it_was_typed(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=1)
    first.height.typed = "47"
    kitchen.wait(hours=9)
    again = card(kitchen.page())
    assert (again.height.text, again.at.text) == ("47", "2026-12-03 20:00")
    assert again.answer.text == "Typed before and not saved yet. Check the time, then Enter."
    assert not len(book.readings)
    again.height.enters += 1
    again.height.enters += 1
    assert book.readings["at_text"].tolist() == ["2026-12-03T20:00:00+01:00"]
    assert card(kitchen.page()).height.text == ""


def test_minutes_ago_in_a_draft_are_counted_from_when_they_were_typed(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=2)
    typed(first.at, "25 min ago")
    kitchen.wait(days=1)
    assert card(kitchen.page()).at.text == "2026-12-03 20:35"


def test_every_form_finds_its_draft_again(kitchen, book):
    page = kitchen.page()
    typed(card(page).feed.unfold().seed, "33")
    more = card(page).more.unfold()
    more.dome.value = "flat"
    typed(page.new_jar.unfold().jar, "D4")
    page.paste.unfold().box.typed = "A1\t1\tnow\t4"
    again = kitchen.page()
    assert card(again).feed.inside.seed.text == "33"
    assert card(again).more.inside.dome.value == "flat"
    assert again.new_jar.inside.jar.text == "D4"
    assert again.paste.inside.box.text == "A1\t1\tnow\t4"


def test_pasted_rows_are_shown_with_every_problem_and_saved_as_one_change(kitchen, book):
    page = kitchen.page()
    kitchen.wait(hours=6)
    form = page.paste.unfold()
    form.box.text = (
        "jar\tat\theight, mm\nA1\tyesterday 20:10\t41,5\nZ9\tnow\t40\nB2\tsoon\t40\nB2\tnow\tfour\nB2\t23:10\t4"
    )
    assert form.answer.text == "4 problems; nothing can be saved until none is left."
    for said in ("Row 3", "Z9", "Row 4", "soon", "Row 5", "four", "Row 6", "it is still to come"):
        assert said in form.preview.markup
    form.save()
    assert form.answer.trouble
    assert not len(book.readings)
    form.box.text = "jar\tat\theight, mm\nA1\tyesterday 20:10\t41,5\nB2\t3 Dec 21:10\t40"
    assert form.answer.text == "2 looks, no problem. Nothing is saved yet."
    assert "Thursday 3 Dec 2026, 20:10 (UTC+01:00)" in form.preview.markup
    form.save()
    assert book.readings[["jar", "feed", "height"]].to_numpy().tolist() == [["A1", 1, 41.5], ["B2", 1, 40.0]]
    page.undo.press()
    assert not len(book.readings)


def test_text_of_the_record_is_only_text_on_the_page(kitchen, book):
    book.add_culture(culture=NASTY)
    book.add_jar(jar=NASTY, culture=NASTY, treatment=NASTY)
    page = kitchen.page()
    nasty = page.grid.children[0]
    assert nasty.jar == NASTY
    name = nasty.heading.lines[0]
    assert len(name) < 60
    assert name.startswith("<script>")
    assert "\u202e" not in "".join(nasty.heading.lines)
    form = page.paste.unfold()
    form.box.text = 'jar\tat\theight\tnote\n"A1"\tnow\t40\t<script>alert(1)</script>'
    assert "&lt;script&gt;" in form.preview.markup
    assert "<script" not in form.preview.markup


def test_the_open_jars_of_a_big_trial_are_due_first_and_found_by_typing(kitchen):
    shutil.copytree(ROOT / "experiments" / "harbour-rota", kitchen.folder / "rota")
    jars = kitchen.folder / "rota" / "jars.csv"
    jars.write_text(jars.read_text(encoding="utf-8").replace(",done,", ",running,"), encoding="utf-8")
    page = kitchen.page()
    assert page.experiment.value == NEW  # invented data are nobody's own trial
    page.experiment.value = "rota"
    assert "These data are invented" in page.answer.text
    assert len(page.due) > 110
    assert [one.due_now for one in page.due] == sorted((one.due_now for one in page.due), reverse=True)
    assert len(page.grid.children) == 6
    page.find.typed = "j077"
    assert [one.jar for one in page.grid.children] == ["J077"]
    page.find.typed = ""
    page.show_more()
    assert len(page.grid.children) == 18


def test_what_cannot_be_saved_is_said_without_names_of_files_or_raw_times(kitchen, book):
    page = kitchen.page()
    kitchen.wait(hours=2)
    first, new = card(page), page.new_jar.unfold()
    feed, jar, more = (fold.unfold() for fold in (first.feed, first.about_jar, first.more))
    said = []
    new.jar.text = "A1"
    new.save()
    said.append(new.answer.text)
    feed.at.text = "18:30"
    feed.save()
    said.append(feed.answer.text)
    for height in ("40", "41"):
        first.height.text, first.at.text = height, "20:00"
        first.save()
    said.append(first.answer.text)
    jar.put_away.text, jar.out.text = "20:30", "20:10"
    jar.save()
    said.append(jar.answer.text)
    more.ph.text = "14"
    said.append(more.ph.message)
    assert [one.partition(";")[0] for one in said] == [
        "There is a jar A1 already",
        "A1 was fed Thursday 3 Dec 2026, 19:00 (UTC+01:00)",
        "A look at A1, Thursday 3 Dec 2026, 20:00 (UTC+01:00), is on record already",
        "A1 went into the cold Thursday 3 Dec 2026, 20:30 (UTC+01:00) and would come out Thursday 3 Dec 2026, 20:10 (UTC+01:00)",
        "pH is 14",
    ]
    assert said[-1] == "pH is 14; it goes from 1 to 9. Correct it, or leave it empty."
    assert book.check() == []


def test_a_note_that_no_table_could_be_read_with_is_refused(kitchen, book):
    first = card(kitchen.page())
    more = first.more.unfold()
    first.height.text, more.note.text = "40", "n" * 200_000
    first.save()
    assert "a cell holds 100000" in first.answer.text
    assert not len(book.readings)


def test_the_only_jar_can_be_withdrawn_before_its_flour_is_known(kitchen):
    record = Experiment.create(kitchen.folder / "one", title="One", question="?", time_zone="UTC")
    record.add_culture(culture="gull")
    record.add_jar(jar="A1", culture="gull", status="running")
    record.add_feed(jar="A1", feed=1, kind="baseline", at=START, seed_g=20, water_g=None, flours_g=None)
    page = kitchen.page()
    jar = card(page).about_jar.unfold()
    jar.what.value, jar.reason.text = "the whole jar", "spilt"
    jar.withdraw()
    assert jar.answer.text.startswith("Withdrawn: the whole jar.")
    assert page.answer.text == "No jar is open. Add one below."


def test_an_experiment_begins_on_the_page_with_its_first_jar(kitchen):
    page = kitchen.page()
    assert page.experiment.value == NEW
    form = page.body.children[0]
    form.zone.browser = "Europe/Oslo"
    assert form.zone.text == "Europe/Oslo"
    form.save()
    assert form.answer.text.startswith("Title is empty;")
    typed(form.title, "Rye or white?")
    typed(form.question, "Which comes back sooner?")
    typed(form.zone, "Mars/Base")
    form.save()
    assert form.answer.text.startswith("'Mars/Base' is no time zone;")
    typed(form.zone, "Europe/Berlin")
    form.save()
    assert page.experiment.value == "rye-or-white"
    new = page.new_jar.unfold()
    typed(new.jar, "A1")
    typed(new.culture, "gull")
    new.save()
    assert [one.jar for one in page.grid.children] == ["A1"]
    assert Experiment.open(kitchen.folder / "rye-or-white").check() == []


def test_enter_goes_from_box_to_box_and_begins_only_after_the_last(kitchen, monkeypatch):
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    form = kitchen.page().new
    assert form.zone.text == "Pacific/Auckland"
    assert "hour of the trial" in form.zone.shown
    typed(form.zone, "Pacific/Auckland", enter=True)
    assert form.title.wants_keyboard
    typed(form.title, "Rye or white", enter=True)
    assert form.question.wants_keyboard
    typed(form.question, "Which?", enter=True)
    assert form.zone.wants_keyboard
    assert not list(kitchen.folder.glob("*/datapackage.json"))
    typed(form.zone, "", enter=True)
    form.save()
    assert form.answer.text.startswith("Time zone of the kitchen (as in Europe/Berlin) is empty;")
    assert not list(kitchen.folder.glob("*/datapackage.json"))
    typed(form.zone, "Europe/Berlin", enter=True)
    assert Experiment.open(kitchen.folder / "rye-or-white").time_zone == "Europe/Berlin"


def test_a_broken_experiment_is_told_and_shows_no_card(kitchen, book):
    (book.folder / "feeds.csv").write_text("jar,feed\n", encoding="utf-8")
    page = kitchen.page()
    assert page.answer.trouble
    assert "feeds.csv" in page.answer.text
    assert page.body.children == ()


def test_a_beat_moves_now_on_and_says_what_has_become_due(kitchen, book):
    page = kitchen.page()
    assert not card(page).heading.due_now
    kitchen.wait(hours=5)
    for beats in range(1, 7):
        page.alive.beats = beats
    assert page.alive.heard == 6
    assert card(page).heading.due_now
    assert card(page).at.shown == "Friday 4 Dec 2026, 00:00 (UTC+01:00)"


def fed(at, *, dilution=3.0, place_temp_c=26.0):
    return {"at": pd.Timestamp(at), "dilution": dilution, "place_temp_c": place_temp_c}


NEVER_AWAY = pd.Series({"put_away_at": pd.NaT, "out_at": pd.NaT, "hold_temp_c": float("nan")})


def test_a_feed_cut_short_leaves_its_debt_to_the_next():
    # The published yeast curve earns 2.99 doublings in 5 h at 26 °C (a row of tests/reference, checked there): 1.196 in 2 h.
    feeds = pd.DataFrame([fed(START), fed(START + timedelta(hours=2))])
    owed = owed_before_last(feeds, jar=NEVER_AWAY, numbers=CultureNumbers())
    assert owed == pytest.approx(math.log2(3) - 2.99 * 2 / 5, abs=0.01)


def test_the_cold_is_owed_by_the_first_feed_after_it_and_repaid_by_a_ripe_one():
    # (0.7 + k days)/ln 2, k = 0.0121 per day at 1 °C with Q10 6.2: a prior, brewing yeast's (the law's own numbers).
    away = pd.Series({"put_away_at": START + timedelta(hours=4), "out_at": START + timedelta(days=21, hours=4)})
    jar = pd.concat([away, pd.Series({"hold_temp_c": 4.0})])
    back = START + timedelta(days=21, hours=5)
    first = pd.DataFrame([fed(START), fed(back)])
    by_hand = (0.7 + 0.0121 * 6.2**0.3 * 21) / math.log(2)
    assert owed_before_last(first, jar=jar, numbers=CultureNumbers()) == pytest.approx(by_hand, rel=0.01)
    second = pd.DataFrame([fed(START), fed(back), fed(back + timedelta(hours=24))])
    assert owed_before_last(second, jar=jar, numbers=CultureNumbers()) == 0


def test_a_cultures_own_numbers_replace_ours():
    row = pd.Series(
        {name + end: float("nan") for name in ("pace", "ripening_doublings") for end in ("", "_low", "_high")}
    )
    assert CultureNumbers.of(row) == CultureNumbers()
    own = CultureNumbers.of(pd.Series({**row, "pace": 2.0, "pace_low": 1.8, "pace_high": 2.2}))
    usual, quick = (
        ripe(dilution=3.0, place_temp_c=26.0, owed=0.0, numbers=numbers) for numbers in (CultureNumbers(), own)
    )
    assert quick.hours == pytest.approx(usual.hours / 2, rel=0.05)


@pytest.mark.parametrize("text", ["80", "bread", "80 bread 20 rye x9!", "80 bread, 10 bread", "-3 rye"])
def test_flours_that_cannot_be_read_are_refused(text):
    with pytest.raises(ValueError, match=r"Write (it as in 80 bread|its grams together)"):
        read_flours(text)


def test_a_look_belongs_to_the_feed_that_stood_in_the_jar_then(kitchen, book):
    kitchen.wait(hours=8)
    book.add_feed(jar="A1", feed=2, kind="baseline", at=kitchen.at, seed_g=50, water_g=50, flours_g={"bread": 50})
    before = kitchen.at - timedelta(hours=1)
    save_reading(book, jar="A1", at=before, now=kitchen.at, height=66.0)
    assert book.readings["feed"].tolist() == [1]


def test_a_change_from_another_page_is_named_before_it_is_taken_back(kitchen, book):
    page, other = kitchen.page(), kitchen.page()
    kitchen.wait(hours=1)
    typed(card(page).height, "41", enter=True)
    typed(card(other, "B2").height, "42", enter=True)
    page.undo.press()
    assert page.undo.answer.text.startswith(
        "The record was changed from elsewhere: the last change is now look of B2, 42, 20:00"
    )
    assert len(book.readings) == 2
    page.undo.press()
    assert book.readings["jar"].tolist() == ["A1"]


def test_a_feed_is_read_once_more_before_a_second_enter_saves_it(kitchen, book):
    form = card(kitchen.page()).feed.unfold()
    kitchen.wait(hours=6)
    typed(form.seed, "20", enter=True)
    assert form.answer.text == (
        "20 g seed, 50 g water, 50 g bread, Friday 4 Dec 2026, 01:00 (UTC+01:00): Enter again to save."
    )
    assert len(book.feeds) == 2
    form.seed.enters += 1
    assert len(book.feeds) == 3


def test_a_feed_into_which_nothing_went_is_not_saved_and_nothing_unknown_is_said_to_be_none(kitchen, book):
    form = card(kitchen.page()).feed.unfold()
    kitchen.wait(hours=6)
    for field in (form.seed, form.water, form.flours):
        typed(field, "")
    form.save()
    form.seed.enters += 1
    assert form.answer.trouble
    assert form.answer.text.startswith("Seed, water and flours are all empty;")
    assert len(book.feeds) == 2
    typed(form.seed, "20", enter=True)
    assert form.answer.text.startswith("20 g seed, water not known, flour not known,")


def test_a_saved_plan_that_cannot_be_read_is_told_on_the_page(kitchen, book):
    (book.folder / "plans").mkdir()
    (book.folder / "plans" / "2026-12-01-A1-1.json").write_text("{", encoding="utf-8")
    page = kitchen.page()
    assert page.answer.trouble
    assert page.grid.children == ()


def test_another_experiment_is_opened_with_its_own_jars_and_an_empty_find(kitchen, book):
    other = Experiment.create(kitchen.folder / "other", title="Other", question="And this?")
    other.add_culture(culture="tern")
    other.add_jar(jar="T1", culture="tern")
    page = kitchen.page()
    page.experiment.value = "mine"
    page.find.typed = "B2"
    assert [one.jar for one in page.grid.children] == ["B2"]
    page.experiment.value = "other"
    assert [one.jar for one in page.grid.children] == ["T1"]
    page.experiment.value = NEW
    page.experiment.value = "mine"
    assert [one.jar for one in page.grid.children] == ["A1", "B2"]


def test_an_experiment_half_begun_is_found_again(kitchen, book):
    page = kitchen.page()
    page.experiment.value = NEW
    page.new.title.typed = "Rye or wh"
    again = kitchen.page()
    assert again.experiment.value == NEW
    assert again.new.title.text == "Rye or wh"
    typed(again.new.title, "Rye or white")
    typed(again.new.question, "Which?")
    typed(again.new.zone, "Europe/Oslo", enter=True)
    assert again.experiment.value == "rye-or-white"
    assert kitchen.page().experiment.value != NEW
    assert sorted(path.name for path in kitchen.folder.iterdir()) == [".fallow", "mine", "rye-or-white"]


def test_an_enter_long_after_the_height_was_typed_asks_whether_it_still_means_now(kitchen, book):
    first = card(kitchen.page())
    kitchen.wait(hours=1)
    typed(first.height, "47")
    kitchen.wait(minutes=40)
    first.height.enters += 1
    assert first.answer.text == (
        "47, Thursday 3 Dec 2026, 20:40 (UTC+01:00): Enter again to save. It was typed 40 min ago."
    )
    assert not len(book.readings)
    typed(first.at, "40 min ago", enter=True)
    first.at.enters += 1
    assert book.readings["at_text"].tolist() == ["2026-12-03T20:00:00+01:00"]
