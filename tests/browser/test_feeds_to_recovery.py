"""The main page as a baker sees it: a slider moved by keyboard moves picture and sentence, and nothing leaves the machine."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll, timed_moves

pytestmark = pytest.mark.browser

PAGE = "workbook/feeds_to_recovery.ipynb"
SLIDERS = {
    "Days held": "21 days",
    "Hold temperature": "4.0 °C",
    "Rye in the feeds": "0 %",
    "Recovery temperature": "24.0 °C",
    "Hours between feeds": "12 h",
}


def test_a_slider_moved_by_keyboard_changes_picture_and_sentence_offline(lab):
    page = lab.open(PAGE, height=1150)
    sentence = page.get_by_role("status").filter(has_text="such jars by feed")
    expect(sentence).to_have_text(re.compile(r"About \d+ of 10 such jars by feed \d \(\d+ to \d+\)"))
    for name, says in SLIDERS.items():
        expect(page.get_by_role("slider", name=name)).to_have_attribute("aria-valuetext", says)
    expect(page.get_by_role("combobox", name="Experiment")).to_have_value("harbour-rota")
    before = sentence.text_content()
    picture = page.locator(".fallow-chart svg")
    drawn = picture.inner_html()
    lab.picture(page, "feeds_to_recovery_1280")
    page.get_by_role("slider", name="Rye in the feeds").focus()
    for _ in range(33):
        page.keyboard.press("ArrowRight")
    expect(sentence).not_to_have_text(before)
    assert picture.inner_html() != drawn
    expect(page.get_by_role("img", name=re.compile("such jars by feed"))).to_be_visible()
    assert "invented data" in picture.text_content()
    no_colliding_words(page)
    page.set_viewport_size({"width": 768, "height": 1150})
    no_sideways_scroll(page)
    lab.picture(page, "feeds_to_recovery_768")


def test_a_hold_far_beyond_the_record_is_called_a_guess(lab):
    page = lab.open(PAGE)
    days = page.get_by_role("slider", name="Days held")
    days.focus()
    page.keyboard.press("End")
    expect(days).to_have_attribute("aria-valuetext", "120 days")
    expect(page.get_by_role("status").filter(has_text="A guess")).to_be_visible()


def test_the_page_reads_in_the_dark_theme(lab):
    page = lab.open(PAGE, height=1150)
    page.get_by_role("menuitem", name="Settings", exact=True).click()
    words = page.locator(".lm-Menu-itemLabel")
    words.get_by_text("Theme", exact=True).click()
    words.get_by_text("JupyterLab Dark", exact=True).click()
    expect(page.locator("body")).to_have_attribute("data-jp-theme-light", "false")
    colour = page.locator(".fallow-answer").first.evaluate("e => getComputedStyle(e).color")
    assert sum(int(part) for part in re.findall(r"\d+", colour)[:3]) > 450, colour
    paper = page.locator(".fallow-chart svg").evaluate("e => getComputedStyle(e).backgroundColor")
    assert paper == "rgb(255, 255, 255)"
    lab.picture(page, "feeds_to_recovery_dark")


def test_how_long_a_move_takes_is_printed(lab, capsys):
    page = lab.open(PAGE, height=1150)
    moved = timed_moves(page, page.get_by_role("slider", name="Days held"))
    with capsys.disabled():
        print(f"\nfeeds to recovery, slider to redrawn chart: {moved}")
    assert moved.moves == 30
