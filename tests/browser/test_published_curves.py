"""The published curves as a baker sees them: the picture, whose numbers they are, and how each model was checked."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_sideways_scroll

pytestmark = pytest.mark.browser


def test_the_curves_and_every_check_are_shown_whole(lab):
    page = lab.open("workbook/published_curves.ipynb", height=1100)
    expect(page.locator(".jp-OutputArea img").first).to_be_visible()
    notes = page.get_by_text("Constants from a second-hand text.").first
    expect(notes).to_contain_text("No growth at 8 °C is the author's statement for dough.")
    expect(page.locator("code", has_text="rates.GAENZLE_1998_YEAST.per_hour").first).to_be_attached()
    lab.picture(page, "published_curves_1280")
    page.set_viewport_size({"width": 768, "height": 1100})
    no_sideways_scroll(page)
    lab.picture(page, "published_curves_768")
