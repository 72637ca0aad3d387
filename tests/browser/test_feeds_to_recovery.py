"""The main page as a baker sees it: a slider moved by keyboard moves picture and sentence, and nothing leaves the machine."""

from __future__ import annotations

import re
import time

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
SECTIONS = {
    "Do ledger and counts agree?": "Undecided is the usual answer",
    "What the record adds": "ledger and jars together",
    "What the cold took": "What a ripe feed leaves of the debt",
    "Why each jar got its outcome": "Jars without an outcome",
    "Another rule of recovery": "The rule is written before the data",
    "What a reviewer asks": "Does the link matter?",
    "How often such intervals hold the truth": "Intervals from fewer than 12 jars are approximate.",
}


def test_a_slider_moved_by_keyboard_changes_picture_and_sentence_offline(lab):
    page = lab.open(PAGE, height=1250)
    sentence = page.get_by_role("status").filter(has_text="such jars by feed")
    expect(sentence).to_have_text(re.compile(r"About \d+ of 10 such jars by feed \d \(\d+ to \d+\); the ledger"))
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
    days = page.get_by_role("slider", name="Days held")
    days.focus()
    page.keyboard.press("End")
    expect(days).to_have_attribute("aria-valuetext", "120 days")
    expect(page.get_by_role("status").filter(has_text="A guess (no jar on record was held so long)")).to_be_visible()
    assert lab.outside == []


def test_sections_unfold_by_keyboard_and_are_read_at_both_widths(lab):
    page = lab.open(PAGE, height=2400)
    expect(page.locator(".fallow-fold table")).to_have_count(0)
    for name, shows in SECTIONS.items():
        heading = page.locator("summary", has_text=name)
        heading.focus()
        page.keyboard.press("Enter")
        section = page.locator(".fallow-fold", has=heading)
        expect(section.get_by_text(shows).first).to_be_visible(timeout=30_000)
        lab.picture(page, f"section {name[:16].strip()}")
        page.keyboard.press("Enter")
        expect(section.get_by_text(shows).first).not_to_be_visible()
    page.set_viewport_size({"width": 768, "height": 2400})
    for name in SECTIONS:
        page.locator("summary", has_text=name).click()
    no_sideways_scroll(page)
    lab.picture(page, "sections_768")
    assert lab.outside == []
    assert lab.errors == []


def test_the_whole_record_another_rule_and_no_record_at_all(lab):
    page = lab.open(PAGE, height=1250)
    page.get_by_role("button", name="Show all recorded jars").click()
    expect(page.get_by_role("status").filter(has_text="Of 111 recorded jars about")).to_be_visible(timeout=30_000)
    no_colliding_words(page)
    lab.picture(page, "feeds_to_recovery_record")
    page.get_by_role("button", name="Back to the jar of the sliders").click()
    expect(page.get_by_role("status").filter(has_text="such jars by feed")).to_be_visible()
    page.locator("summary", has_text="Another rule").focus()
    page.keyboard.press("Space")
    debt = page.get_by_label("Debt at most, doublings")
    expect(debt).to_have_value("0.5")
    debt.fill("1,0")
    debt.press("Enter")
    expect(page.get_by_text("of 111 jars move")).to_be_visible(timeout=30_000)
    debt.fill("wet")
    debt.press("Enter")
    expect(page.get_by_text("'wet' is not a number")).to_be_visible()
    page.get_by_role("combobox", name="Experiment").select_option("none: the ledger alone")
    expect(page.get_by_role("status").filter(has_text="A guess (no jar is on record): the ledger says")).to_be_visible()
    expect(page.get_by_role("button", name="Show all recorded jars")).not_to_be_visible()
    no_colliding_words(page)
    lab.picture(page, "feeds_to_recovery_alone")


def test_the_report_is_saved_reads_offline_and_prints_on_a4(lab, tmp_path):
    page = lab.open(PAGE, height=1250)
    with page.expect_download(timeout=60_000) as saved:
        page.get_by_role("button", name="Save the report").click()
    assert saved.value.suggested_filename == "harbour-rota-feeds-to-recovery.html"
    kept = tmp_path / "report.html"
    saved.value.save_as(kept)
    reader = lab.context.browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    asked = []
    shown = reader.new_page()
    shown.on("request", lambda request: asked.append(request.url))
    shown.on("console", lambda line: asked.append(line.text))
    shown.goto(kept.as_uri())
    expect(shown.get_by_role("heading", name="What a reviewer asks")).to_be_visible()
    expect(shown.get_by_role("img", name="Feeds to recovery")).to_have_count(2)
    shown.screenshot(path=str(lab.pictures / "report_screen.png"), full_page=True)
    wide = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert shown.evaluate(wide) <= 0
    shown.set_viewport_size({"width": 768, "height": 900})
    assert shown.evaluate(wide) <= 0
    printed = shown.pdf(path=str(lab.pictures / "report.pdf"), prefer_css_page_size=True)
    reader.close()
    assert asked == [kept.as_uri()]
    assert printed.startswith(b"%PDF")
    # A4 is 210 by 297 mm (ISO 216), 595 by 842 points of 1/72 inch.
    boxes = {tuple(round(float(n)) for n in box.split()) for box in re.findall(rb"/MediaBox\s*\[([^\]]+)\]", printed)}
    assert boxes == {(0, 0, 595, 842)} or boxes == {(0, 0, 596, 842)}


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


def test_how_long_the_first_answer_and_a_move_take_is_printed(lab, capsys):
    page = lab.open(PAGE, run=False, height=1250)
    began = time.perf_counter()
    lab.run_all(page)
    expect(page.locator(".fallow-chart svg")).to_be_visible()
    first = time.perf_counter() - began
    moved = timed_moves(page, page.get_by_role("slider", name="Days held"))
    page.locator("summary", has_text="What the record adds").click()
    expect(page.get_by_role("columnheader", name="ledger and jars together")).to_be_visible(timeout=30_000)
    more = timed_moves(page, page.get_by_role("slider", name="Days held"))
    with capsys.disabled():
        print(f"\nfeeds to recovery, from Run All (kernel and all) to the picture: {first:.1f} s")
        print(f"feeds to recovery, slider to redrawn chart: {moved}; with the forecast unfolded: {more}")
    assert moved.moves == more.moves == 30
