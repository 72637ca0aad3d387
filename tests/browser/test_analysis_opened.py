"""An analysis that is merely opened, never run: its picture is a picture, with words for who cannot see it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

# Scrolling makes the notebook build cells anew, so all is looked up again each time until the picture stands, whole, in sight.
SHOWN = """(name) => {
    const image = [...document.querySelectorAll("img")].find(each => each.alt.includes(name));
    if (!image) {
        [...document.querySelectorAll(".jp-Notebook .jp-Cell")].at(-1)?.scrollIntoView();
        return false;
    }
    image.scrollIntoView({ block: "center" });
    return image.isConnected && image.complete && image.naturalWidth > 300 && image.naturalHeight > 200;
}"""


def test_a_worked_analysis_shows_its_picture_without_being_run(lab):
    page = lab.open("experiments/harbour-rota/analysis.ipynb", run=False, height=1000)
    picture = page.get_by_role("img", name="Feeds to recovery")
    page.wait_for_function(SHOWN, arg="Feeds to recovery")
    expect(picture).to_be_in_viewport()
    assert "invented data" in picture.get_attribute("alt")
    assert lab.answers == []
    lab.picture(page, "analysis_opened")
    assert lab.outside == []
