"""What a stay earns is the integral of the published curve along the jar's temperature, and its hours turn that round."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from fallow.maths.cold import CREEP, STOP
from fallow.maths.earnings import earnings
from fallow.maths.profile import Profile
from fallow.plans.sides import CLOCKS, YEAST
from fallow.plans.stay import COOLED, FARTHEST_HOURS, Stay

CHILL, COOLING, KITCHEN, FRIDGE = 5.0, 1.5, 22.0, 4.0
OFF_C = np.array([-0.7, 0.0, 0.9])
PACE = np.array([0.9, 1.0, 1.1])


def stay(clock=YEAST, story=CREEP, *, days=900.0, fridge=FRIDGE):
    warm = Profile.constant(temp_c=KITCHEN, hours=CHILL)
    cold = Profile.cooling(start_c=KITCHEN, ambient_c=fridge, time_constant_hours=COOLING, hours=24 * days)
    return Stay(
        warm=earnings(profile=warm, curve=clock.curve, offsets_c=OFF_C),
        cold=earnings(profile=cold, curve=story.curve(clock.curve), offsets_c=-OFF_C),
        pace=PACE,
        bend_hours=COOLED * COOLING,
    )


@pytest.mark.parametrize("story", [CREEP, STOP], ids=str)
@pytest.mark.parametrize("clock", CLOCKS, ids=lambda clock: clock.word)
def test_lines_are_the_integral_of_the_published_curve(clock, story):
    # Oracle: scipy's quadrature along Newton's law of cooling written out here; the straight part is 900 days long.
    hours = np.array([0.0, 2.0, 5.0, 6.5, 12.0, 22.9, 23.1, 40.0, 500.0, 24 * 60.0])
    made = stay(clock, story).by(hours=hours)
    for row, (off, pace) in enumerate(zip(OFF_C, PACE, strict=True)):

        def warm(_t, off=off):
            return float(clock.curve.per_hour(temp_c=KITCHEN + off))

        def cold(t, off=off):
            temp = FRIDGE - off + (KITCHEN - FRIDGE) * np.exp(-t / COOLING)
            return float(story.curve(clock.curve).per_hour(temp_c=temp))

        for column, hour in enumerate(hours):
            later = max(hour - CHILL, 0.0)
            cuts = [t for t in (0.5, 1, 2, 3, 4, 6, 9, 15, 30) if t < later]
            whole = quad(warm, 0, min(hour, CHILL))[0] + quad(cold, 0, later, points=cuts or None, limit=400)[0]
            # A jump of the curve costs the quadrature its last digits.
            assert made[row, column] == pytest.approx(pace * whole / np.log(2), abs=2e-4, rel=2e-4)


@pytest.mark.parametrize("doublings", [0.5, 1.9, 3.0, 5.0])
def test_hours_turn_the_lines_round_and_count_from_the_mix_or_from_chilling(doublings):
    one = stay()
    hours = one.hours(doublings=doublings)
    for row, hour in enumerate(hours):
        assert one.by(hours=np.array([hour]))[row, 0] == pytest.approx(doublings, abs=1e-6)
    assert one.hours_in_cold(doublings=doublings) == pytest.approx(np.maximum(hours - CHILL, 0), abs=1e-6)


def test_a_stay_by_hours_is_the_stay_to_its_end():
    one = stay()
    assert one.by(hours=np.array([CHILL + 500.0]))[:, 0] == pytest.approx(one.after_cold(hours=500.0), abs=2e-6)
    assert one.by(hours=np.array([CHILL]))[:, 0] == pytest.approx(one.at_chill)


def test_what_two_years_do_not_earn_is_never():
    frozen = stay(story=STOP, fridge=0.0, days=FARTHEST_HOURS / 24 + 100)
    assert np.isinf(frozen.hours(doublings=6.0)).all()
    assert np.isinf(frozen.hours_in_cold(doublings=6.0)).all()
