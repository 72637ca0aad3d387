"""Put away as a baker sees it: two times typed, a shelf chosen, a plan read, pinned and taken along."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll, timed_moves

from fallow.panels.put_away.page import PutAwayPage

pytestmark = pytest.mark.browser

PAGE = "workbook/put_away.ipynb"
NOW = datetime(2026, 12, 1, 9, 3, tzinfo=UTC)
HIGH = 2300


@pytest.fixture
def fixed(lab):
    """The page on a Tuesday morning."""
    return lab.stopped(PAGE, now=NOW)


def test_times_typed_and_a_shelf_chosen_by_keyboard_change_plan_and_picture(lab, fixed):
    page = lab.open(fixed, height=HIGH)
    sentence = page.get_by_role("status").filter(has_text="ripe about")
    expect(sentence).to_be_visible()
    no_colliding_words(page)
    lab.picture(page, "put_away_1280")
    before, picture = sentence.text_content(), page.locator(".fallow-chart svg")
    drawn = picture.inner_html()
    page.get_by_role("combobox", name="Where it will stand").focus()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("slider", name="Temperature there")).to_have_attribute("aria-valuetext", "5.2 °C")
    expect(sentence).not_to_have_text(before)
    assert picture.inner_html() != drawn
    leave = page.get_by_label("You leave")
    leave.fill("in 30 hours")
    leave.press("Enter")
    expect(page.get_by_text(re.compile(r"^Last feed before the cold"))).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("ripe about"))).to_be_visible()
    no_colliding_words(page)
    page.set_viewport_size({"width": 768, "height": HIGH})
    no_sideways_scroll(page)
    lab.picture(page, "put_away_768")


def test_beyond_four_weeks_the_reserve_comes_first_and_a_wrong_time_shows_no_plan(lab, fixed):
    page = lab.open(fixed, height=HIGH)
    back = page.get_by_label("You are back")
    back.fill("in 1500 hours")
    back.press("Enter")
    expect(page.get_by_text("first of all comes a reserve")).to_be_visible()
    no_colliding_words(page)
    lab.picture(page, "put_away_long")
    back.fill("soon")
    back.press("Enter")
    expect(back).to_have_attribute("aria-invalid", "true")
    expect(back).to_have_value("soon")
    expect(page.get_by_role("img", name="no plan")).to_be_visible()
    expect(page.get_by_text("Last feed before the cold")).to_have_count(0)


def test_plans_stand_side_by_side_and_go_to_paper_and_calendar(lab, fixed):
    page = lab.open(fixed, height=HIGH)
    expect(page.get_by_role("status").filter(has_text="ripe about")).to_be_visible()
    pin = page.get_by_role("button", name="Pin this plan")
    pin.focus()
    page.keyboard.press("Enter")
    expect(page.locator("th", has_text=re.compile("^A$"))).to_be_visible()
    page.get_by_role("combobox", name="Where it will stand").focus()
    page.keyboard.press("ArrowUp")
    expect(page.get_by_role("slider", name="Temperature there")).to_have_attribute("aria-valuetext", "1.9 °C")
    pin.press("Enter")
    expect(page.locator("th", has_text=re.compile("^B$"))).to_be_visible()
    for letter in "CD":
        pin.press("Enter")
        expect(page.locator("th", has_text=re.compile(f"^{letter}$"))).to_be_visible()
    lab.picture(page, "put_away_pinned")
    page.set_viewport_size({"width": 768, "height": HIGH})
    no_sideways_scroll(page)
    lab.picture(page, "put_away_pinned_768")
    with page.expect_download() as calendar:
        page.get_by_role("button", name="Calendar").press("Enter")
    assert calendar.value.suggested_filename.endswith(".ics")
    with page.expect_download() as sheet:
        page.get_by_role("button", name="Kitchen sheet").press("Enter")
    assert "Last feed before the cold" in sheet.value.path().read_text(encoding="utf-8")


@pytest.mark.parametrize(("leave", "hours", "said"), [(33, 34, "leave it in the kitchen"), (25, 120, "let it finish")])
def test_back_before_it_is_ripe_the_jar_is_left_out_or_left_to_finish(lab, fixed, leave, hours, said):
    page = lab.open(fixed, height=HIGH)
    for box, text in (("You leave", f"in {leave} hours"), ("You are back", f"in {hours} hours")):
        page.get_by_label(box).fill(text)
        page.get_by_label(box).press("Enter")
    expect(page.get_by_role("status").filter(has_text=said)).to_be_visible()
    expect(page.get_by_role("img", name=re.compile(said))).to_be_visible()
    no_colliding_words(page)
    lab.picture(page, f"put_away_back_early_{hours}")
    page.set_viewport_size({"width": 768, "height": HIGH})
    no_sideways_scroll(page)
    lab.picture(page, f"put_away_back_early_{hours}_768")


@pytest.mark.parametrize("days", [21, 90])
def test_the_kitchen_sheet_prints_on_one_page(browser, tmp_path, days):
    page = PutAwayPage(tmp_path, now=lambda: NOW)
    page.form.back.text = f"in {24 * days + 30} hours"
    sheet = browser.new_page(viewport={"width": 794, "height": 1123})
    sheet.set_content(page.papers.sheet_html())
    sheet.emulate_media(media="print")
    pictures = Path(os.environ.get("FALLOW_PICTURES") or tmp_path)
    sheet.screenshot(path=str(pictures / f"put_away_sheet_{days}.png"))
    printed = sheet.pdf(prefer_css_page_size=True)
    sheet.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_the_browser_says_which_clock_hangs_in_the_kitchen(lab, fixed):
    page = lab.open(fixed, run=False, height=HIGH)
    page.context.new_cdp_session(page).send("Emulation.setTimezoneOverride", {"timezoneId": "America/St_Johns"})
    lab.run_all(page)
    expect(page.get_by_text(re.compile(r", 18:00 \(UTC-0[23]:30\)")).first).to_be_visible()


def test_how_long_a_move_takes_is_printed(lab, fixed, capsys):
    page = lab.open(fixed, height=HIGH)
    moved = timed_moves(page, page.get_by_role("slider", name="Temperature there"))
    with capsys.disabled():
        print(f"\nput away, slider to redrawn chart: {moved}")
    assert moved.moves == 30
