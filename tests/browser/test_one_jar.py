"""One jar and one holiday as a baker does it: four answers by keyboard, a holiday written down, found again after a reload."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll

from fallow.records.experiment import Experiment
from fallow.records.one_jar import NAME, Stage, standing

pytestmark = pytest.mark.browser
# A plan that does not fit looks further for one that does, and the machine may be busy.
PATIENCE_MS = 60_000

PAGE = "workbook/one_jar.ipynb"
# In the middle of the night: the hour at which the words of this holiday's picture once lay on one another.
NOW = datetime(2026, 11, 26, 2, 22, tzinfo=UTC)


@pytest.fixture
def fixed(lab):
    """The page at one hour."""
    return lab.stopped(PAGE, now=NOW)


def enter(page: Page, label: str, text: str, *, key: str = "Enter") -> None:
    """Put the keyboard into a box and type, as a baker does."""
    page.get_by_label(label, exact=True).focus()
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.press("Delete")
    page.keyboard.type(text)
    page.keyboard.press(key)


def press(page: Page, name: str) -> None:
    """Press a button with the keyboard."""
    page.get_by_role("button", name=name, exact=True).focus()
    page.keyboard.press("Enter")


def ago(**time: float) -> str:
    """Return an hour in the past as a baker may write it down."""
    return f"{NOW - timedelta(**time):%Y-%m-%d %H:%M}"


def answer(page: Page):
    return page.locator(".fallow-answer").first


def feed(page: Page, *, at: str, seed: str, water: str, bread: str, height: str) -> None:
    enter(page, "Fed at", at)
    for label, text in (("Old starter, g", seed), ("Water, g", water), ("White or bread flour, g", bread)):
        enter(page, label, text, key="Tab")
    enter(page, "Height right after, mm", height, key="Tab")
    press(page, "Save this feed")


def test_four_answers_by_keyboard_are_answered_with_a_picture(lab, fixed, capsys):
    page = lab.open(fixed, run=False, height=1500)
    started = time.perf_counter()
    lab.run_all(page)
    expect(answer(page)).to_contain_text("Ripe about", timeout=PATIENCE_MS)
    with capsys.disabled():
        print(f"\none jar, from Run All to the first answer: {time.perf_counter() - started:.1f} s")
    no_colliding_words(page)
    lab.picture(page, "one_jar_first_1280")
    enter(page, "Last fed", "20 h ago")
    enter(page, "Days away, in the fridge", "21")
    page.get_by_label("Fridge shelf").focus()
    page.keyboard.press("d")
    back = NOW + timedelta(days=22)
    enter(page, "When to bake: dough mixed at", f"{back:%Y-%m-%d} 11:00")
    expect(answer(page)).to_contain_text(
        re.compile(r"Feed (twice|three times): .*Ripe about .*\(.* to .*\).*11:00 in"), timeout=PATIENCE_MS
    )
    expect(page.get_by_text("The jar stands in the cold for 21 days at 5.2 °C")).to_be_visible(timeout=PATIENCE_MS)
    assert len((answer(page).text_content() or "").split()) <= 30
    assert not (lab.folder / "experiments" / NAME).exists(), "asking writes nothing down"
    no_colliding_words(page)
    no_sideways_scroll(page)
    page.set_viewport_size({"width": 768, "height": 1500})
    no_sideways_scroll(page)
    lab.picture(page, "one_jar_first_768")


def test_a_wish_that_cannot_be_met_says_what_would_do_and_an_empty_box_says_what_it_needs(lab, fixed):
    page = lab.open(fixed, height=1300)
    enter(page, "Days away, in the fridge", "")
    expect(answer(page)).to_contain_text("Days away is empty; the answer needs it.", timeout=PATIENCE_MS)
    enter(page, "Days away, in the fridge", "7")
    # Fed yesterday at 20:00, in the fridge at 23:00: on the seventh morning somebody is up for an hour before the dough.
    soon = NOW + timedelta(days=7)
    enter(page, "When to bake: dough mixed at", f"{soon:%Y-%m-%d} 08:00")
    expect(answer(page)).to_contain_text("Too soon for", timeout=PATIENCE_MS)
    offer = page.get_by_role("button", name=re.compile("Take this: Dough at"))
    expect(offer).to_be_visible(timeout=PATIENCE_MS)
    lab.picture(page, "one_jar_too_soon_1280")
    offer.focus()
    page.keyboard.press("Enter")
    expect(answer(page)).to_contain_text("Feed twice:", timeout=PATIENCE_MS)
    expect(offer).to_be_hidden()
    enter(page, "Last fed", "soonish")
    expect(page.get_by_text("'soonish'").first).to_be_visible()
    expect(page.get_by_label("Last fed", exact=True)).to_have_value("soonish")


def test_a_whole_holiday_is_written_down_found_again_and_counts(lab, fixed):
    page = lab.open(fixed, height=1700)
    tomorrow = NOW + timedelta(days=1)
    enter(page, "When to bake: dough mixed at", f"{tomorrow:%Y-%m-%d} 18:00")
    feed(page, at=ago(days=15, hours=3), seed="20", water="60", bread="60", height="40")
    expect(page.get_by_text("Write down when it goes into the fridge.")).to_be_visible(timeout=PATIENCE_MS)
    enter(page, "Into the fridge at", ago(days=15))
    press(page, "Save: it is in the fridge")
    expect(page.get_by_text(re.compile(r"The jar is in the fridge since .*middle shelf, 3\.3 °C"))).to_be_visible(
        timeout=PATIENCE_MS
    )
    lab.picture(page, "one_jar_cold_1280")

    page = again(lab, page, fixed)
    expect(page.get_by_text(re.compile(r"The jar is in the fridge since .*middle shelf, 3\.3 °C"))).to_be_visible(
        timeout=PATIENCE_MS
    )
    expect(page.get_by_label("When to bake: dough mixed at", exact=True)).to_have_value(re.compile("18:00"))
    enter(page, "Out of the fridge at", ago(hours=11))
    press(page, "Save: it is out")
    expect(page.get_by_text("Write down feed 1.")).to_be_visible(timeout=PATIENCE_MS)
    feed(page, at=ago(hours=10.5), seed="20", water="20", bread="20", height="30")
    expect(page.get_by_text(re.compile("Feed 1 stands since"))).to_be_visible(timeout=PATIENCE_MS)
    enter(page, "Seen at", ago(hours=1))
    enter(page, "Height now, mm, then Enter", "62,5")
    expect(page.get_by_text(re.compile(r"Saved: 62\.5 mm"))).to_be_visible(timeout=PATIENCE_MS)
    expect(answer(page)).to_contain_text(re.compile("Feed 1 is ripe about .*(Feed|No more feeds)"), timeout=PATIENCE_MS)
    page.get_by_label("Last fed", exact=True).scroll_into_view_if_needed()
    no_colliding_words(page)
    lab.picture(page, "one_jar_back_1280")
    page.set_viewport_size({"width": 768, "height": 1700})
    no_sideways_scroll(page)
    lab.picture(page, "one_jar_back_768")
    page.set_viewport_size({"width": 1280, "height": 1700})
    press(page, "The holiday is over, or the jar is lost")
    expect(page.get_by_label("A word for next year")).to_be_visible(timeout=PATIENCE_MS)
    enter(page, "A word for next year", "<b>ready</b> =1+1")
    press(page, "Close this holiday")
    expect(page.get_by_text("Saved: this holiday is closed")).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_text("What your record says so far").click()
    expect(page.get_by_text("0 of 3 ordinary feeds seen to their peak.")).to_be_visible(timeout=30_000)
    page.get_by_text("What your record says so far").scroll_into_view_if_needed()
    lab.picture(page, "one_jar_record_1280")

    record = Experiment.open(lab.folder / "experiments" / NAME)
    assert record.check() == []
    assert standing(record).stage is Stage.AT_HOME
    assert record.readings["height"].tolist() == [40.0, 30.0, 62.5]
    assert record.jars["note"].tolist() == ["<b>ready</b> =1+1"]
    assert record.jars["status"].tolist() == ["done"]


def again(lab, page: Page, path: str) -> Page:
    """Close the page and its kernel, and open it anew, as on another day."""
    page.close()
    lab.server.end_kernels()
    return lab.open(path, height=1700)
