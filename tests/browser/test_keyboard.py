"""Where the keyboard goes, whatever the kernel asks for and when."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

LATE = """
import ipywidgets
from fallow.panels.controls.field import TextField
seed, flours = TextField(label="Seed"), TextField(label="Flours")
flours.observe(lambda _: seed.set_trait("wants_keyboard", True), ["typed", "enters"])
granted = []
def say(change):
    if not change.new:
        granted.append(1)
        seed.shown = f"answered {len(granted)}"
seed.observe(say, "wants_keyboard")
ipywidgets.VBox([seed, flours])
"""


def test_a_late_wish_for_the_keyboard_takes_it_from_nobody_who_types(lab, write_page):
    """Grams of rye once went into the box of the seed: a form's first box got the keyboard while the third was filled."""
    page = lab.open(write_page(LATE))
    seed, flours = page.get_by_label("Seed"), page.get_by_label("Flours")
    for answers in (1, 3):  # the second wish for the same box was lost
        flours.focus()
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type("50 bread, ")
        expect(page.get_by_role("status").filter(has_text=f"answered {answers}")).to_be_visible()
        page.keyboard.type("10 rye")
        expect(flours).to_have_value("50 bread, 10 rye")
        expect(flours).to_be_focused()
        page.keyboard.press("Enter")
        expect(seed).to_be_focused()
