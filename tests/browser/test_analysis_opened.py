"""An analysis that is merely opened, never run: its picture is a picture, with words for who cannot see it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_a_worked_analysis_shows_its_picture_without_being_run(lab):
    page = lab.open("experiments/harbour-rota/analysis.ipynb", run=False, height=1000)
    picture = page.get_by_role("img", name="Feeds to recovery")
    page.locator(".jp-Notebook .jp-Cell").last.scroll_into_view_if_needed()
    picture.scroll_into_view_if_needed()
    expect(picture).to_be_visible()
    assert picture.evaluate("image => image.complete && image.naturalWidth > 300 && image.naturalHeight > 200")
    assert "invented data" in picture.get_attribute("alt")
    assert lab.answers == []
    lab.picture(page, "analysis_opened")
    assert lab.outside == []
