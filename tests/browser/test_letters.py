"""What Chromium really draws is never wider than what a picture leaves room for."""

from __future__ import annotations

import pytest

from fallow.charts import theme
from fallow.charts.lettering import text_px

pytestmark = pytest.mark.browser
MEASURED = """([font, text, weight]) => {
    const pen = document.createElement("canvas").getContext("2d");
    pen.font = `${weight} 100px ${font}`;
    return pen.measureText(text).width / 100;
}"""
WORDS = (
    "ripe 20:30 (19:00 to 22:30)", "13:00 to 16:30", "ripe Sun 22 Nov", "17 Nov to 28 Nov", "later than shown",
    "feed 2, 07:00", "last feed, 23:22", "62.5 mm", "dough 18:00", "to the cold 06:30", "back 14:00", "sour Wed 2 Dec",
    "20 g seed · 60 g flour · 60 g water", "kitchen, 22 °C by day and 17 °C by night", "middle shelf, 3.3 °C",
    "as written down", "a start value", "warm box, 28 °C", "owes 1.4", "(0.5 to 2.7)", "creep and stop alike", "Wed 25 Nov",
    "day 14", "00:00", "asleep", "days drawn short", "look 19:30, domed", "needed", "owed from the cold", "to visibly ripe",
    "yeast clock", "jars (large: like yours; open: not yet)", "counts, 90 % band", "ledger, same schedule",
)  # fmt: skip


def test_no_word_is_drawn_wider_than_was_thought(browser):
    page = browser.new_page()
    for weight, bold in (("normal", False), ("bold", True)):
        for text in WORDS:
            seen = page.evaluate(MEASURED, [theme.FONT, text, weight])
            assert seen <= text_px(text, size=1, bold=bold), (text, weight)
    page.close()
