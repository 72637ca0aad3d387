"""The bench without a browser: what its sentence says, and what it refuses."""

from __future__ import annotations

import re

import pytest

from fallow.panels.feed_bench.page import FeedBench
from fallow.panels.feed_bench.setting import Setting
from fallow.panels.feed_bench.words import closed_lid, recipe


@pytest.fixture(scope="module")
def bench():
    return FeedBench()


def setting(**other):
    plain = {"seed_g": 50, "water_g": 50, "bread_g": 50, "rye_g": 0, "now_c": 26, "later_c": 26, "moved_hours": 4}
    return Setting(**plain | other)


def test_a_one_to_one_feed_at_26_degrees_peaks_at_about_five_hours():
    # Common practice, no source; the default c is chosen so.
    one = setting(fed_at_hours=8)
    assert one.yeast.hours == pytest.approx(5.0, abs=0.1)
    assert one.sentence().startswith("Ripe about 13:00 (")


def test_twice_the_dilution_costs_exactly_one_doubling_of_time():
    near, far = setting(), setting(seed_g=25, water_g=62.5, bread_g=62.5)
    assert far.feed.doublings - near.feed.doublings == pytest.approx(1.0)
    assert far.yeast.hours > near.yeast.hours


def test_flour_and_hydration_move_grams_but_no_hour():
    plain, stiff = setting(), setting(water_g=30, bread_g=40, rye_g=30)
    assert stiff.feed.dilution == plain.feed.dilution
    assert stiff.yeast.hours == plain.yeast.hours
    assert stiff.feed.hydration_fraction != plain.feed.hydration_fraction


@pytest.mark.parametrize("later_c", [28, 20, 12, 4])
def test_the_answer_has_both_ends_and_at_most_thirty_words(later_c):
    said = setting(later_c=later_c).sentence()
    assert len(said.split()) <= 30
    assert re.search(r"Ripe about .+ \(.+ to .+\)", said)


def test_cold_hours_bring_both_stories_in_words():
    said = setting(later_c=4, moved_hours=0.5).sentence()
    assert "by creep" in said
    assert "by stop not within 14 days" in said


def test_above_28_it_warns_and_above_30_it_plans_nothing(bench):
    bench.now.value = 28.5
    assert "Above 28 °C" in bench.note.markup
    assert not bench.answer.trouble
    bench.now.value = 31
    assert bench.answer.trouble
    assert bench.answer.text == "31 °C is above 30 °C; Fallow plans nothing there. Choose a cooler place."
    bench.now.value = 24
    assert not bench.answer.trouble


def test_no_flour_is_refused_in_words_and_the_next_move_answers_again(bench):
    bench.bread.value, bench.rye.value = 0, 0
    assert bench.answer.trouble
    assert bench.answer.text == "There is no flour; a feed needs some. Move bread or rye flour up."
    assert "baker" not in bench.note.markup, "no grams of a feed that is not there"
    bench.bread.value = 80
    assert not bench.answer.trouble


def test_two_settings_stand_side_by_side(bench):
    bench.pin("B")
    bench.seed.value = 40
    bench.pin("A")
    assert re.findall(r"<th>([AB])</th>", bench.compared.markup) == ["A", "B"]
    assert "40 seed" in bench.compared.markup


def test_a_seed_that_rested_cold_owes_and_is_ripe_later():
    # (0.7 + k 21 d)/ln 2 with k 0.0209 a day at 4 °C: 0.0121 at 1 °C and a tenfold factor of 6.2 (McCaig & Bendiak 1985).
    fresh, rested = setting(), setting(held_days=21)
    assert fresh.owed_doublings == 0
    assert rested.owed_doublings == pytest.approx((0.7 + 21 * 0.0121 * 6.2**0.3) / 0.693147, abs=0.005)
    assert rested.yeast.hours > fresh.yeast.hours + 2
    assert rested.sour.hours == fresh.sour.hours


def test_the_days_in_the_cold_are_said_and_drawn(bench):
    bench.held.value = 21
    assert "Owed from the cold" in bench.note.markup
    assert bench.setting().ledger().feeds["owed_doublings"][0] > 1
    bench.held.value = 0
    assert "Owed from the cold" not in bench.note.markup


def test_seven_controls_and_the_rest_under_more(bench):
    assert len(bench.children[0].children) == 7


def test_bakers_percentages_are_of_the_new_flour():
    table = recipe(setting(rye_g=50).feed)
    assert dict(zip(table["what goes in"], table["baker's %"], strict=True)) == {
        "bread flour": "50",
        "rye flour": "50",
        "water": "50",
        "seed": "50",
        "in all": "200",
    }


def test_the_lid_caution_is_always_there(bench):
    assert "Leave the lid loose" in bench.note.markup


def test_a_closed_lid_brings_its_caution_with_a_pressure(bench):
    assert "A closed lid" not in bench.note.markup
    bench.lid.value = "closed"
    assert re.search(r"A closed lid: .+ about \d+ kPa", bench.note.markup)
    bench.lid.value = "loose"
    assert "A closed lid" not in bench.note.markup


def test_the_pressure_is_the_ideal_gas_shared_with_the_water():
    # The gas of one doubling fills the jar's own starter volume once more: near one atmosphere were it all in an equal
    # headspace (Boyle); what the water takes up by Henry's law leaves less, but not nothing.
    pressure = float(re.search(r"about (\d+) kPa", closed_lid(setting().feed))[1])
    assert 30 < pressure < 101.325
