"""The first page as a baker sees it: read at both widths, and left for another page by keyboard."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_sideways_scroll

pytestmark = pytest.mark.browser


def test_the_first_page_is_read_at_both_widths_and_leads_on_by_keyboard(lab):
    page = lab.open("workbook/start.ipynb", height=1100)
    first = page.get_by_role("link", name="One jar, one holiday")
    expect(first).to_be_visible()
    lab.picture(page, "start_1280")
    page.set_viewport_size({"width": 768, "height": 1100})
    no_sideways_scroll(page)
    lab.picture(page, "start_768")
    first.focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"one_jar\.ipynb"))
