"""A whole small trial kept by keyboard, across a restart of the kernel, and found on disk."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.browser.moves import no_sideways_scroll

from fallow.records import drafts
from fallow.records.experiment import Experiment

pytestmark = pytest.mark.browser

PAGE = "workbook/record_a_trial.ipynb"
# Three hours ago is the same day, and no clock changes between.
NOW = datetime(2026, 11, 26, 9, 30, tzinfo=UTC)
SLUG = "two-jars-by-the-window"


def enter(page: Page, place: Page | Locator, label: str, text: str, *, key: str = "Tab") -> None:
    """Put the keyboard into a box and type, as a baker does."""
    place.get_by_label(label).focus()
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type(text)
    page.keyboard.press(key)


def press(page: Page, place: Page | Locator, name: str) -> None:
    """Press a button with the keyboard."""
    place.get_by_role("button", name=name, exact=True).focus()
    page.keyboard.press("Enter")


def card(page: Page, jar: str) -> Locator:
    return page.locator(".fallow-card").filter(has=page.get_by_role("heading", name=jar, exact=True))


def begin_trial(page: Page) -> None:
    page.get_by_label("Experiment").select_option("a new experiment")
    enter(page, page, "Title", "Two jars by the window")
    enter(page, page, "What it asks", "Does a warm shelf halve the feeds?")
    enter(page, page, "Time zone of the kitchen", "Europe/Berlin")
    press(page, page, "Begin it")
    expect(page.get_by_text("No jar is open. Add one below.")).to_be_visible()
    # The form is gone with the button that was pressed; the keyboard is not.
    expect(page.get_by_label("Experiment", exact=True)).to_be_focused()


def add_jar(page: Page, jar: str) -> None:
    enter(page, page, "Name of the jar", jar)
    enter(page, page, "Culture in it", "gull")
    press(page, page, "Save jar")
    expect(card(page, jar)).to_be_visible()


def feed(page: Page, jar: str) -> None:
    """Feed one jar from its own card, three hours ago, in form."""
    mine = card(page, jar)
    press(page, mine, "Feed")
    mine.get_by_label("This feed is").select_option("in form")
    enter(page, mine, "Seed, g", "20")
    enter(page, mine, "Water, g", "60")
    enter(page, mine, "Flours", "50 bread, 10 rye")
    enter(page, mine, "Temperature there", "26")
    enter(page, mine, "Mixed at", "3 h ago")
    press(page, mine, "Save feed")
    expect(mine.get_by_text(re.compile(f"Saved: feed 1 of {jar}"))).to_be_visible()
    press(page, mine, "Close: feed")
    expect(mine.get_by_text("Next: look")).to_be_visible()


def test_a_small_trial_by_keyboard_across_a_restart_of_the_kernel(lab):
    page = lab.open(lab.stopped(PAGE, now=NOW), height=1200)
    begin_trial(page)
    press(page, page, "New jar")
    for jar in ("A1", "B2"):
        add_jar(page, jar)
    press(page, page, "Close: new jar")
    for jar in ("A1", "B2"):
        feed(page, jar)
    page.get_by_label("Experiment").scroll_into_view_if_needed()
    lab.picture(page, "record_1280")
    folder = lab.folder / "experiments" / SLUG

    # height, Enter: saved, and the keyboard is in the next jar's height
    card(page, "A1").get_by_label("A1: height").focus()
    page.keyboard.type("41,5")
    page.keyboard.press("Enter")
    expect(card(page, "A1").get_by_text("Saved: 41.5 mm for A1")).to_be_visible()
    expect(card(page, "B2").get_by_label("B2: height")).to_be_focused()
    page.keyboard.type("40")
    page.keyboard.press("Enter")
    expect(card(page, "B2").get_by_text("Saved: 40 mm for B2")).to_be_visible()
    expect(card(page, "A1").get_by_label("A1: height")).to_be_focused()

    # what is typed and not entered is kept; then the kernel goes
    page.keyboard.type("4")
    page.keyboard.type("7")
    until_kept(page, folder, "47")
    page.get_by_role("menuitem", name="Kernel", exact=True).click()
    page.get_by_role("menuitem", name=re.compile(r"^Restart Kernel(…|\.\.\.)")).first.click()
    page.get_by_role("button", name="Confirm Kernel Restart").click()
    expect(page.get_by_role("alert").filter(has_text="This page is no longer connected")).to_be_visible(timeout=60_000)
    lab.picture(page, "record_lost")

    lab.run_all(page)
    mine = card(page, "A1")
    expect(mine.get_by_label("A1: height")).to_have_value("47")
    expect(mine.get_by_text("Typed before and not saved yet.")).to_be_visible()
    expect(page.get_by_role("alert")).to_have_count(0)
    page.set_viewport_size({"width": 768, "height": 1200})
    no_sideways_scroll(page)
    lab.picture(page, "record_768")
    enter(page, mine, "A1: when", "10 min ago", key="Enter")
    expect(mine.get_by_text(re.compile(r"47, \w+ \d+ \w+ \d{4}, .* Enter again to save\."))).to_be_visible()
    page.keyboard.press("Enter")
    expect(mine.get_by_text("Saved: 47 mm for A1")).to_be_visible()

    record = Experiment.open(folder)
    assert record.check() == []
    assert sorted(zip(record.readings["jar"], record.readings["height"], strict=True)) == [
        ("A1", 41.5), ("A1", 47.0), ("B2", 40.0),
    ]  # fmt: skip
    assert record.feeds[["jar", "feed", "seed_g", "bread_g", "rye_g"]].to_numpy().tolist() == [
        ["A1", 1, 20, 50, 10], ["B2", 1, 20, 50, 10],
    ]  # fmt: skip
    assert drafts.read_drafts(folder, page=drafts.Page.TRIAL_BOOK) == {}


def until_kept(page: Page, folder, text: str) -> None:
    """Wait until the draft is on disk."""
    for _ in range(500):
        if text in [draft.text for draft in drafts.read_drafts(folder, page=drafts.Page.TRIAL_BOOK).values()]:
            return
        page.wait_for_timeout(20)
    pytest.fail(f"the draft {text!r} was not kept")


NASTY = '<script>window.hurt = 1</script><img src=x onerror="window.hurt = 1">=HYPERLINK("x")\u202eאב🥖'


def test_text_of_the_record_stays_text_and_pasted_rows_are_shown_before_they_are_saved(lab):
    record = Experiment.create(lab.folder / "experiments" / "odd", title="Odd", question="Is text only text?")
    record.add_culture(culture=NASTY)
    record.add_jar(jar="long" + "x" * 10_000, culture=NASTY, treatment=NASTY)
    record.add_jar(jar="J1", culture=NASTY, note=NASTY)
    fed = {"at": "2026-01-02T07:00:00+00:00", "seed_g": 20, "water_g": 60, "flours_g": {"bread": 60}}
    record.add_feed(jar="J1", feed=1, kind="baseline", place=NASTY, **fed)
    record.add_reading(jar="J1", feed=1, at="2026-01-02T09:00:00+00:00", height=44, smell=NASTY)
    page = lab.open(PAGE, height=1400)
    expect(page.get_by_text(re.compile(r"2 jars open"))).to_be_visible()
    expect(page.get_by_text("<script>window.hurt = 1</script>").first).to_be_visible()
    no_sideways_scroll(page)
    for name in ("More", "Feed", "Cold or end"):
        press(page, card(page, "J1"), name)
    expect(card(page, "J1").get_by_label("Withdraw")).to_be_visible()
    lab.picture(page, "record_forms_1280")
    press(page, page, "Paste rows")
    page.get_by_label("Paste rows here").focus()
    rows = f"jar\tat\theight\tnote\nJ1\t2026-01-02 10:00\t51,5\t{NASTY}\nNo such\tsoon\tfour\t"
    page.keyboard.insert_text(rows)
    expect(page.get_by_text("3 problems; nothing can be saved until none is left.")).to_be_visible()
    page.get_by_text("3 problems").scroll_into_view_if_needed()
    lab.picture(page, "record_paste_1280")
    page.set_viewport_size({"width": 768, "height": 1400})
    no_sideways_scroll(page)
    lab.picture(page, "record_paste_768")
    page.get_by_label("Paste rows here").fill(rows.rsplit("\n", 1)[0])
    expect(page.get_by_text("1 look, no problem.")).to_be_visible()
    press(page, page, "Save these rows")
    expect(page.get_by_text("Saved: 1 look as one change.")).to_be_visible()
    assert Experiment.open(record.folder).readings["note"].iloc[-1] == NASTY
    assert page.evaluate("() => window.hurt") is None


def test_a_hundred_open_jars_are_shown_at_once_and_found_by_typing(lab):
    jars = lab.folder / "experiments" / "harbour-rota" / "jars.csv"
    jars.write_text(jars.read_text(encoding="utf-8").replace(",done,", ",running,"), encoding="utf-8")
    page = lab.open(PAGE, height=1400)
    page.get_by_label("Experiment").select_option("harbour-rota")
    expect(page.get_by_text(re.compile("jars open, .* due now"))).to_be_visible()
    expect(page.locator(".fallow-card")).to_have_count(6)
    lab.picture(page, "record_many_1280")
    page.get_by_label("Find a jar").focus()
    page.keyboard.type("J077")
    expect(page.locator(".fallow-card")).to_have_count(1)
    expect(card(page, "J077")).to_be_visible()
    page.keyboard.press("Enter")
    expect(page.get_by_label("J077: height")).to_be_focused()
    page.keyboard.type("41,5")
    until_kept(page, jars.parent, "41,5")
    page.close()
    again = lab.open(PAGE, height=1400)
    again.get_by_label("Experiment").select_option("harbour-rota")
    # what was typed comes first, wherever its jar stands in the order
    expect(again.locator(".fallow-card").first.get_by_label("J077: height")).to_have_value("41,5")


def test_a_kernel_that_died_is_noticed_and_the_page_lives_again_when_it_is_run(lab):
    page = lab.open(PAGE, height=900)
    expect(page.get_by_label("Experiment")).to_be_visible()
    (kernel,) = [one["kernel"]["id"] for one in lab.server.ask("GET", "api/sessions")]
    lab.server.ask("POST", f"api/kernels/{kernel}/restart")
    expect(page.get_by_role("alert").filter(has_text="This page is no longer connected")).to_be_visible(timeout=60_000)
    lab.run_all(page)
    expect(page.get_by_role("alert")).to_have_count(0)
    page.get_by_label("Experiment").select_option("harbour-rota")
    # an earlier test of this file may have opened every jar of the copy
    answered = page.get_by_role("status").filter(has_text=re.compile(r"(No jar is|114 jars) open"))
    expect(answered).to_be_visible(timeout=60_000)
