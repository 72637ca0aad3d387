"""The way back as a baker sees it: by keyboard, at two widths, offline, with files that really arrive."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import icalendar
import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll, timed_moves

from fallow.panels.bring_back.page import BringBackPage

pytestmark = pytest.mark.browser

PAGE = "workbook/bring_back.ipynb"
NOW = datetime(2026, 5, 15, 17, 0, tzinfo=UTC)
ANSWER = re.compile(r"Ripe about .+ \(.+ to .+\); ready at \d\d:\d\d in \d+ of 10+ jars\.")


@pytest.fixture
def fixed(lab):
    """The page on a Friday evening in Berlin."""
    return lab.stopped(PAGE, now=NOW, time_zone="Europe/Berlin")


def typed(page, label, text):
    """Type into a box by keyboard alone and leave it with Enter."""
    box = page.get_by_label(label, exact=False).first
    box.focus()
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def pressed(page, name):
    """Press a button by keyboard."""
    page.get_by_role("button", name=name).focus()
    page.keyboard.press("Enter")


def test_the_whole_way_back_by_keyboard_at_both_widths(lab, fixed):
    page = lab.open(fixed, height=1500)
    answer = page.get_by_role("status").filter(has_text=ANSWER)
    expect(answer).to_be_visible()
    before = answer.text_content()
    page.get_by_role("slider", name="Days in the cold").focus()
    for _ in range(3):
        page.keyboard.press("PageUp")
    expect(answer).not_to_have_text(before)
    no_colliding_words(page)
    lab.picture(page, "bring_back_1280")
    page.set_viewport_size({"width": 768, "height": 1900})
    no_sideways_scroll(page)
    no_colliding_words(page)
    lab.picture(page, "bring_back_768")
    pressed(page, "More")
    typed(page, "Warm box", "31")
    expect(page.get_by_role("status").filter(has_text="at most 30 °C").first).to_be_visible()
    typed(page, "Warm box", "29")
    expect(page.get_by_text("Above 28 °C the yeast slows").first).to_be_visible()
    no_sideways_scroll(page)
    lab.picture(page, "bring_back_more_768")


def test_a_wish_that_cannot_be_met_offers_a_plan_that_can(lab, fixed):
    page = lab.open(fixed, height=1500)
    typed(page, "You mix dough at", "in 2 hours")
    expect(page.get_by_role("status").filter(has_text="the last feed is not ripe yet")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("instead of"))).to_be_visible()
    lab.picture(page, "bring_back_nearest_1280")
    pressed(page, re.compile("instead of"))
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    expect(page.get_by_label("You mix dough at")).not_to_have_value("in 2 hours")
    # The button that was pressed is gone; the keyboard is not lost with it.
    expect(page.get_by_role("button", name="Kitchen sheet")).to_be_focused()


def test_a_look_plans_again_and_stands_in_the_picture(lab):
    later = lab.stopped(PAGE, now=NOW + timedelta(hours=23), time_zone="Europe/Berlin")
    page = lab.open(later, height=2300)
    typed(page, "You can feed from", "2026-05-15 19:00")
    typed(page, "You mix dough at", "2026-05-17 09:00")
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    typed(page, "You looked", "2026-05-16 15:00")
    typed(page, "Height right after the feed", "50")
    typed(page, "Height at the look", "55")
    pressed(page, "Plan again from this look")
    expect(page.locator(".fallow-chart svg").get_by_text(re.compile("^look ")).first).to_be_visible()
    no_colliding_words(page)
    expect(page.get_by_role("status").filter(has_text="Planned again from your look at Sat 15:00")).to_be_visible()
    page.locator(".fallow-answer").first.scroll_into_view_if_needed()
    lab.picture(page, "bring_back_look_1280")


def test_sheet_and_calendar_arrive(lab, fixed):
    page = lab.open(fixed, height=1500)
    with page.expect_download() as waited:
        pressed(page, "Calendar")
    read = icalendar.Calendar.from_ical(Path(waited.value.path()).read_text(encoding="utf-8"))
    assert "Mix dough: 150 g ripe starter" in {str(event["summary"]) for event in read.walk("VEVENT")}
    assert waited.value.suggested_filename == "bring-back-2026-05-17.ics"
    with page.expect_download() as waited:
        pressed(page, "Kitchen sheet")
    assert waited.value.suggested_filename == "bring-back-2026-05-17.html"
    assert "Mix dough: 150 g ripe starter" in Path(waited.value.path()).read_text(encoding="utf-8")
    expect(page.get_by_role("status").filter(has_text="Saved as bring-back-2026-05-17.html")).to_be_visible()
    page.reload()
    lab.run_all(page)
    pressed(page, "Go on with your plan: dough Sun 17 May 09:00")
    expect(page.get_by_role("button", name="Go on with your plan")).to_be_hidden()


@pytest.mark.parametrize(("feeds", "mix", "kitchen", "days"), [(2, 17, 22, 21), (3, 17, 22, 120), (4, 19, 14, 120)])
def test_the_kitchen_sheet_is_one_page_of_paper(browser, tmp_path, feeds, mix, kitchen, days):
    page = BringBackPage(tmp_path, now=lambda: NOW, time_zone="Europe/Berlin")
    page.form.mix.text, page.form.days.value = f"2026-05-{mix} 09:00", days
    page.form.kitchen.value, page.form.night.value = kitchen, kitchen - 3
    assert len(page.held().feeds) == feeds
    html = page.papers.sheet_html()
    assert html.count("<svg") == (1 if feeds == 2 else 0)
    sheet = browser.new_page(viewport={"width": 794, "height": 1123})
    sheet.set_content(html)
    sheet.emulate_media(media="print")
    pictures = Path(os.environ.get("FALLOW_PICTURES") or tmp_path)
    sheet.screenshot(path=str(pictures / f"kitchen_sheet_{feeds}.png"))
    printed = sheet.pdf(prefer_css_page_size=True)
    sheet.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    (box,) = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed))
    assert [round(float(side) / 72 * 25.4) for side in box] == [210, 297]


def test_how_long_a_move_takes_is_printed(lab, fixed, capsys):
    page = lab.open(fixed, height=1500)
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    moved = timed_moves(page, page.get_by_role("slider", name="Days in the cold"))
    with capsys.disabled():
        print(f"\nbring back, slider to redrawn chart: {moved}")
    assert moved.moves == 30
