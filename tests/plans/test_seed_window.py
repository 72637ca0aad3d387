"""Seed is taken from half a doubling before ripe to two after it, at the median: in the plan as told and weighed, not nearly."""

from __future__ import annotations

import numpy as np
import pytest
from tests.plans.cases import AWAKE, EVENINGS, household

from fallow.plans.bring_back import bring_back


@pytest.mark.parametrize("number", range(20))
def test_every_seed_is_taken_in_time_on_any_scale_and_from_any_place(number):
    """The plan's own 2,048 draws, its cold mixes and its grams: nothing of the search is asked."""
    rng = np.random.default_rng([13, number])
    asked = household(number, root=424242, hours=(10, 60), awake=(*AWAKE, EVENINGS))
    plan = bring_back(**asked | {"hydration_fraction": float(rng.choice([0.5, 0.65, 1.0, 1.25]))})
    past = np.array([np.median(each) for each in plan.result.past[:-1]])
    assert (past >= -0.5).all()
    assert (past <= 2.0).all()


def test_a_seed_that_rounding_up_the_flour_makes_early_is_taken_richer():
    """Flour and water are rounded up, 57 g where 55 were asked for: a seed half a doubling before ripe would be too young."""
    asked = household(179, root=424242, hours=(10, 60)) | {"hydration_fraction": 1.25, "jar_g": 250.0}
    plan = bring_back(**asked)
    assert plan.reason == ""
    assert np.median(plan.result.past[0]) >= -0.5
    assert plan.feeds["seed_g"].iloc[0] > plan.exact[0].seed_g + 0.5


def test_what_rounding_did_is_told_apart_from_what_a_cold_mix_did():
    """Both chances reckon with the mix that 35 degC water cannot warm: on a fine scale nothing is left between them."""
    plan = bring_back(
        home_at="2026-05-15T19:00+02:00",
        mix_at="2026-05-16T14:00+02:00",
        places={"kitchen": 22, "warm box": 28},
        scale_g=0.1,
        chance=0.6,
    )
    assert np.isfinite(plan.steps[0].mix_c)
    assert abs(plan.chance_before_rounding - plan.ready_chance) < 0.005
    without = [step.log for step in plan.steps]
    assert np.abs(np.array(without) - [feed.doublings for feed in plan.exact]).max() < 0.01
