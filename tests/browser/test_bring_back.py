"""The way back as a baker sees it: by keyboard, at two widths, offline, with files that really arrive."""

from __future__ import annotations

import re
from pathlib import Path

import icalendar
import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll, timed_moves

pytestmark = pytest.mark.browser

PAGE = "workbook/bring_back.ipynb"
ANSWER = re.compile(r"Ripe about .+ \(.+ to .+\); ready at \d\d:\d\d in \d+ of 10+ such jars\.")


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


def test_the_whole_way_back_by_keyboard_at_both_widths(lab):
    page = lab.open(PAGE, height=1500)
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


def test_a_wish_that_cannot_be_met_offers_a_plan_that_can(lab):
    page = lab.open(PAGE, height=1500)
    typed(page, "You mix dough at", "in 2 hours")
    expect(page.get_by_role("status").filter(has_text="the last feed is not ripe yet")).to_be_visible()
    lab.picture(page, "bring_back_nearest_1280")
    pressed(page, re.compile("instead of"))
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    expect(page.get_by_label("You mix dough at")).not_to_have_value("in 2 hours")


def test_a_look_plans_again_and_stands_in_the_picture(lab):
    page = lab.open(PAGE, height=1700)
    # So long a rest that the first feed is due at once; a look comes an hour later on the kitchen's clock.
    typed(page, "You can feed from", "3 h ago")
    typed(page, "You mix dough at", "in 22 h")
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    typed(page, "You looked", "10 min ago")
    typed(page, "Height right after the feed", "50")
    typed(page, "Height at the look", "55")
    pressed(page, "Plan again from this look")
    expect(page.locator(".fallow-chart svg").get_by_text(re.compile("^look ")).first).to_be_visible()
    no_colliding_words(page)
    page.locator(".fallow-answer").first.scroll_into_view_if_needed()
    lab.picture(page, "bring_back_look_1280")


def test_sheet_and_calendar_arrive_and_the_sheet_is_one_page_of_paper(lab):
    page = lab.open(PAGE, height=1500)
    with page.expect_download() as waited:
        pressed(page, "Calendar")
    read = icalendar.Calendar.from_ical(Path(waited.value.path()).read_text(encoding="utf-8"))
    assert {"Mix dough: 150 g ripe starter"} <= {str(event["summary"]) for event in read.walk("VEVENT")}
    assert waited.value.suggested_filename.endswith(".ics")
    with page.expect_download() as waited:
        pressed(page, "Kitchen sheet")
    html = Path(waited.value.path()).read_text(encoding="utf-8")
    sheet = lab.context.new_page()
    sheet.set_viewport_size({"width": 794, "height": 1123})
    sheet.set_content(html)
    sheet.emulate_media(media="print")
    lab.picture(sheet, "kitchen_sheet")
    printed = sheet.pdf(path=str(lab.pictures / "kitchen_sheet.pdf"), prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    assert b"MediaBox" in printed


def test_how_long_a_move_takes_is_printed(lab, capsys):
    page = lab.open(PAGE, height=1500)
    expect(page.get_by_role("status").filter(has_text=ANSWER)).to_be_visible()
    moved = timed_moves(page, page.get_by_role("slider", name="Days in the cold"))
    with capsys.disabled():
        print(f"\nbring back, slider to redrawn chart: {moved}")
    assert moved.moves == 30
