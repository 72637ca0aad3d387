"""When each draw is ripe: the hour at which an independent root finder finds what it needs earned."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from fallow.plans.bring_back import bring_back
from fallow.plans.draws import middles
from fallow.plans.outcome import Step, earned_by, ripe_hour


@pytest.fixture(scope="module")
def room():
    plan = bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00", places={"kitchen": (23, 17), "warm box": 28}
    )
    draws = plan.course.draws.taken(np.arange(0, 2048, 64))
    return plan.setting.kitchen(draws)


@pytest.mark.parametrize(
    "step",
    [
        Step(at=0.0, place=0, log=3.0),
        Step(at=7.25, place=1, log=2.0, mix_c=19.0),
        Step(at=3.5, place=0, log=5.5),
        Step(at=2.0, place=1, log=4.0, cold_at=8.5),
    ],
    ids=["kitchen", "cold mix in a box", "very lean", "sent to the cold"],
)
@pytest.mark.parametrize("more", [0.05, 1.4, 6.0, 60.0], ids=["at once", "usual", "late", "never"])
def test_ripe_is_the_hour_at_which_what_is_needed_is_earned(room, step, more):
    needed = step.log + more + np.linspace(0, 0.5, 32)
    hours = ripe_hour(step=step, needed=needed, kitchen=room)
    last = room.span.hours + 47.0
    for draw, hour in enumerate(hours):

        def short(at, draw=draw):
            return float(earned_by(step=step, hours=np.array([at]), kitchen=room)[0, draw] - needed[draw])

        if short(last) < 0:
            assert np.isinf(hour) or hour > last - 0.5
        else:
            # Read in a straight line within a quarter of an hour.
            assert hour == pytest.approx(brentq(short, step.at, last), abs=0.02)


@pytest.mark.parametrize("count", [1, 2, 7, 512])
def test_middles_are_the_medians_of_rows_in_single_precision_too(count):
    values = np.random.default_rng(3).normal(size=(40, count))
    values[0, 0] = -np.inf
    for some in (values, values.astype(np.float32)):
        assert middles(some) == pytest.approx(np.median(some, axis=1), rel=1e-6)
