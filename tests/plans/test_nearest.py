"""What is near a wish that cannot be met: really reachable when asked for, and begun once for all later doughs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from tests.plans.cases import household

from fallow.plans.bring_back import bring_back
from fallow.plans.clock import after
from fallow.plans.draws import Carried, Culture
from fallow.plans.search import possible, search

CARRIED = Culture(carried=Carried(middle_logit=-0.3, sd_logit=0.35))


def asked(number: int) -> dict:
    """Return a household's wish, every second one's culture carrying a share of its debt over a feed; most cannot be met."""
    return household(number, root=31337, hours=(8, 30)) | {"culture": CARRIED if number % 2 else Culture()}


@pytest.mark.parametrize("number", range(10))
def test_what_is_near_is_what_comes_of_asking_for_it(number):
    plan = bring_back(**asked(number))
    for near in plan.alternatives:
        there = {place.name: (place.day_c, place.night_c) for place in near.setting.places}
        again = bring_back(**asked(number) | {"mix_at": near.setting.mix, "places": there})
        assert again.reason == near.reason == ""
        assert again.ready_chance == near.ready_chance >= plan.setting.chance
        pd.testing.assert_frame_equal(again.feeds, near.feeds)


@pytest.mark.parametrize(
    "awake", [("05:00", "07:30"), ("17:30", "23:00"), ("12:00", "12:00")], ids=["early", "late", "never"]
)
@pytest.mark.parametrize("number", [5, 11, 29, 33])
def test_where_no_hour_that_somebody_is_awake_will_do_the_usual_hours_are_named(number, awake):
    """What is named is reachable by asking for it: other waking hours, another dough, another place, or all of these."""
    wish = household(number, root=99, hours=(8, 48)) | {"awake": awake}
    plan = bring_back(**wish)
    assert not plan.reason or plan.alternatives
    for near in plan.alternatives:
        by_day = near.change.startswith("Feeding between 07:00 and 22:30.")
        there = {place.name: (place.day_c, place.night_c) for place in near.setting.places}
        hours = {"awake": ("07:00", "22:30")} if by_day else {}
        again = bring_back(**wish | hours | {"mix_at": near.setting.mix, "places": there})
        assert again.reason == near.reason == ""
        pd.testing.assert_frame_equal(again.feeds, near.feeds)


def test_the_wished_hour_of_a_later_day_is_near_though_nobody_feeds_then():
    """Feeding early in the morning only, dough in the evening: asked for once, so it may be asked for days later."""
    wish = {"home_at": "2026-05-16T17:00+02:00", "places": {"kitchen": 23, "warm box": 28}, "awake": ("05:00", "07:30")}
    plan = bring_back(**wish, mix_at="2026-05-17T01:00+02:00", chance=0.6, days_held=7)
    near = plan.nearest
    assert near.change == "Dough at Tue 01:00 instead of Sun 01:00."
    assert near.setting.mix == pd.Timestamp("2026-05-19T01:00+02:00")


def test_no_flour_and_too_early_a_dough_are_both_mended():
    wish = {"home_at": "2026-05-15T19:00+02:00", "places": {"kitchen": 22, "warm box": 28}, "flours": {}}
    near = bring_back(**wish, mix_at="2026-05-15T21:00+02:00").nearest
    assert near.reason == ""
    assert near.change.startswith(f"With {near.flour_g:g} g of flour, four fifths bread and one fifth rye. Dough at ")


@pytest.mark.parametrize("number", [3, 4, 7])
def test_chains_begun_for_a_later_dough_are_those_begun_for_an_earlier_one(number):
    """Against a search of each dough's own, on either side of where hours are thinned out."""
    setting = replace(bring_back(**asked(number)).setting, size=128)
    there = 0
    for longest in (10.0, 50.0):
        late = replace(setting, mix=after(setting.mix, longest))
        problem = late.problem(kitchen=late.kitchen(late.draws), draws=late.draws)
        for hours in np.linspace(0.0, longest, 6):
            some = replace(setting, mix=after(setting.mix, hours))
            own = some.problem(kitchen=some.kitchen(some.draws), draws=some.draws)
            found = possible(problem.until(some.hours), chance=some.chance)
            assert found == (search(own) is not None)
            there += found
    assert 0 < there < 12
