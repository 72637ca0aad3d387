"""The kitchen sheet: one page, offline, everything a baker typed inert, boxes for what was really weighed."""

from __future__ import annotations

import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from shutil import which

import pytest
from tests.conftest import missing

from fallow.maths.feeds import Feed
from fallow.panels.controls.paper import OnPaper
from fallow.plans.acts import weighed_text
from fallow.plans.bring_back import bring_back
from fallow.plans.draws import Carried, Culture
from fallow.plans.put_away import put_away
from fallow.plans.sheet import kitchen_sheet_html

NASTY = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def plan():
    return bring_back(
        home_at="2026-05-15T19:00+02:00",
        mix_at="2026-05-17T09:00+02:00",
        places={"kitchen": 22, NASTY: 28},
        flours={"bread": 0.8, NASTY: 0.2},
        days_held=28,
    )


def tags(text):
    seen = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attributes):
            seen.append((tag, attributes))

    Reader().feed(text)
    return seen


def test_what_a_baker_typed_is_text_and_nothing_is_loaded(plan):
    text = kitchen_sheet_html(plan, title=f"Jar {NASTY}")
    assert "script" not in {tag for tag, _ in tags(text)}
    assert "&lt;script&gt;" in text
    assert not re.search(r"https?:|url\(|@import|src=", text)


def test_the_usual_habits_and_a_box_for_every_gram_are_there(plan):
    text = kitchen_sheet_html(plan)
    for words in ("Liquid on top", "from the middle", "until feed 2 has risen", "local food-safety", "height"):
        assert words in text
    boxes = sum(tag == "i" for tag, _ in tags(text))
    weighed = sum(len(act.weighed) for act in plan.acts)
    unweighed = sum(act.key.startswith(("look", "dough")) for act in plan.acts)
    assert boxes == len(plan.acts) + weighed + unweighed
    assert not re.search(r"#(?!000\b|fff\b)[0-9a-f]{3,6}\b", text)


def test_of_one_feed_the_old_jar_is_kept_until_that_has_risen_and_of_a_used_up_jar_nothing_is_said():
    some = {"home_at": "2026-05-15T19:00+02:00", "places": {"kitchen": 24}, "days_held": 1, "ripe_g": 60, "keep_g": 0}
    one = bring_back(**some, mix_at="2026-05-16T07:00+02:00")
    assert len(one.feeds) == 1
    assert "keep it until this feed has risen" in kitchen_sheet_html(one)
    assert "feed 2" not in kitchen_sheet_html(one)
    used_up = bring_back(**some, mix_at="2026-05-17T09:00+02:00", jar_g=15)
    assert used_up.weighed[0].seed_g == used_up.setting.wish.most_seed_g
    assert "take the seed from the middle" in kitchen_sheet_html(used_up)
    assert "old jar" not in kitchen_sheet_html(used_up)


def test_a_sheet_before_the_cold_has_no_habit_of_the_way_back_and_no_height_of_flakes():
    away = put_away(
        leave_at="2026-05-01T18:00+02:00", return_at="2026-07-15T18:00+02:00", kitchen_temp_c=22, fridge_temp_c=4
    )
    heights = {act.key: kitchen_sheet_html(on_paper(away, act)).count(">height<i>") for act in away.acts}
    assert heights == {"flakes": 0, "last feed": 0, "second jar": 0, "chill": 1, "back": 1}
    said = kitchen_sheet_html(on_paper(away, *away.acts))
    for words in ("Liquid on top: pour it off, or", "the middle", "old jar", "at each look"):
        assert words not in said


def on_paper(away, *acts):
    return OnPaper(acts=acts, identity="", revision=0, cautions=away.cautions, sentence="Away.", reason="")


def test_a_flour_that_is_called_flour_is_not_called_so_twice():
    feed = Feed(seed_g=20, water_g=100, flours_g={"rye flour": 100})
    assert weighed_text(feed) == "20 g seed, 100 g water, 100 g rye flour."


@pytest.fixture(scope="module")
def three_feeds():
    return bring_back(
        home_at="2026-05-15T08:00+02:00",
        mix_at="2026-05-17T08:00+02:00",
        places={"kitchen": 25},
        ripe_g=3000,
        jar_g=15,
        chance=0.8,
        days_held=60,
    )


@pytest.fixture(scope="module")
def with_trips():
    """Three feeds, two of which wait in the cold."""
    some = bring_back(
        home_at="2026-05-15T20:00+02:00",
        mix_at="2026-05-18T21:00+02:00",
        places={"kitchen": 24},
        awake=("17:30", "22:30"),
        days_held=60,
    )
    assert (len(some.feeds), some.trips) == (3, 2)
    return some


@pytest.fixture(scope="module")
def many_feeds():
    """A culture that leaves four fifths of its debt over a feed: as many feeds as a plan ever has, of three flours."""
    some = bring_back(
        home_at="2026-05-15T19:00+02:00",
        mix_at="2026-05-19T18:00+02:00",
        places={"kitchen": 24, "warm box": 28},
        awake=("06:00", "23:00"),
        flours={"bread": 0.6, "rye": 0.2, "whole wheat": 0.2},
        chance=0.6,
        culture=Culture(carried=Carried(middle_logit=1.45, sd_logit=0.2)),
    )
    assert len(some.feeds) == 8
    assert len(some.sentence.split()) <= 30
    assert some.sentence.startswith(
        "Eight feeds, the first Sat 17:30 kitchen, the last Tue 11:30 warm box. Ready at Tue 18:00 in "
    )
    return some


def test_where_there_are_many_acts_a_look_stands_with_its_feed_and_nothing_is_left_out(many_feeds):
    text = kitchen_sheet_html(many_feeds)
    assert sum(tag == "tr" for tag, _ in tags(text)) == 1 + 8 + 1
    boxes = sum(tag == "i" for tag, _ in tags(text))
    assert boxes == sum(1 + max(len(act.weighed), 1) for act in many_feeds.acts)
    for act in many_feeds.acts:
        assert act.title in text
        assert act.text in text
        assert f"{act.at:%a %H:%M}" in text


def test_it_prints_on_one_a4_page(plan, three_feeds, with_trips, many_feeds, tmp_path: Path):
    """Chromium prints it to PDF; the page count stands in the file."""
    browser = which("chromium")
    if browser is None:
        missing("chromium")
    assert len(three_feeds.feeds) == 3
    for number, some in enumerate((plan, three_feeds, with_trips, many_feeds)):
        page, out = tmp_path / f"{number}.html", tmp_path / f"{number}.pdf"
        page.write_text(kitchen_sheet_html(some), encoding="utf-8")
        command = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
        subprocess.run([*command, f"--print-to-pdf={out}", page.as_uri()], check=True, capture_output=True, timeout=120)
        assert len(re.findall(rb"/Type\s*/Page\b", out.read_bytes())) == 1
