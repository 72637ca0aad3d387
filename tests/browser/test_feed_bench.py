"""The bench of sliders as a baker sees it: moved by keyboard, answered in a sentence, pinned and compared."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_colliding_words, no_sideways_scroll, timed_moves

pytestmark = pytest.mark.browser

PAGE = "workbook/feed_bench.ipynb"


def test_a_slider_moves_picture_and_sentence_and_two_settings_stand_side_by_side(lab):
    page = lab.open(PAGE, height=1100)
    sentence = page.get_by_role("status").filter(has_text="Ripe about")
    expect(sentence).to_be_visible()
    before = sentence.text_content()
    page.get_by_role("button", name="Pin as A").click()
    page.get_by_role("slider", name="Temperature later").focus()
    for _ in range(8):
        page.keyboard.press("ArrowLeft")
    expect(sentence).not_to_have_text(before)
    expect(page.get_by_role("slider", name="Temperature later")).to_have_attribute("aria-valuetext", "20.0 °C")
    held = page.get_by_role("slider", name="Seed rested cold for")
    held.focus()
    page.keyboard.press("ArrowRight")
    expect(held).to_have_attribute("aria-valuetext", "1 day")
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    expect(held).to_have_attribute("aria-valuetext", "21 days")
    expect(page.get_by_text("doublings owed. Owed from the cold:")).to_be_visible()
    page.get_by_role("button", name="Pin as B").click()
    expect(page.locator("th", has_text=re.compile("^B$"))).to_be_visible()
    expect(page.get_by_text("24 °C, 20 °C from 01:00")).to_have_count(2)
    no_colliding_words(page)
    lab.picture(page, "feed_bench_1280")
    page.set_viewport_size({"width": 768, "height": 1100})
    no_sideways_scroll(page)
    lab.picture(page, "feed_bench_768")


def test_too_warm_is_warned_then_refused_and_a_typed_number_that_cannot_be_used_stays(lab):
    page = lab.open(PAGE, height=1100)
    warm = page.get_by_role("slider", name="Temperature now")
    warm.focus()
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    expect(page.get_by_text("Above 28 °C: improvised warmth")).to_be_visible()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(page.get_by_role("status").filter(has_text="Fallow plans nothing there")).to_be_visible()
    expect(page.get_by_role("img", name="no plan")).to_be_visible()
    page.get_by_role("button", name="More").click()
    mixed = page.get_by_label("Temperature of the mix, °C")
    mixed.fill("77")
    mixed.press("Enter")
    expect(page.get_by_text("Temperature of the mix is 77;")).to_be_visible()
    expect(mixed).to_have_value("77")
    expect(mixed).to_have_attribute("aria-invalid", "true")
    mixed.fill("21,5")
    mixed.press("Tab")
    expect(mixed).to_have_attribute("aria-invalid", "false")


def test_how_long_a_move_takes_is_printed(lab, capsys):
    page = lab.open(PAGE, height=1100)
    moved = timed_moves(page, page.get_by_role("slider", name="Water"))
    with capsys.disabled():
        print(f"\nfeed bench, slider to redrawn chart: {moved}")
    assert moved.moves == 30
