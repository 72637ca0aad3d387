"""Every gram of a plan comes from somewhere: no more seed than the old jar gives, whatever the scale can weigh."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from tests.plans.brute import cheapest, cost_g
from tests.plans.cases import household

from fallow.plans.bring_back import bring_back
from fallow.plans.mass import Wish, grams, least_cost_g, most_last_seed_g
from fallow.plans.search import search
from fallow.plans.seeds import LEAST_LOG

LOSS_G = 5.0


@pytest.mark.parametrize("number", range(12))
def test_no_seed_is_heavier_than_what_the_old_jar_gives(number):
    """A small jar and a coarse scale: ten divisions of seed may be more than there is, and then the plan says so."""
    rng = np.random.default_rng([11, number])
    jar_g, scale_g = float(rng.uniform(8, 70)), float(rng.choice([0.1, 1, 2, 5]))
    plan = bring_back(**household(number, root=11) | {"jar_g": jar_g, "scale_g": scale_g})
    if 10 * scale_g > jar_g - LOSS_G:
        assert not len(plan.feeds)
        assert f"a seed must weigh ten divisions of the scale, {10 * scale_g:g} g" in plan.reason
    for some in (plan, plan.nearest):
        if some is not None and some.steps:
            assert some.weighed[0].seed_g + LOSS_G <= jar_g + 1e-6
            assert some.exact[0].seed_g + LOSS_G <= jar_g + 1e-6


def test_the_nearest_to_too_coarse_a_scale_is_a_finer_one():
    asked = {
        "home_at": "2026-05-15T19:00+02:00",
        "mix_at": "2026-05-17T09:00+02:00",
        "places": {"kitchen": 22, "warm box": 28},
        "jar_g": 30,
    }
    coarse, near = bring_back(**asked, scale_g=5), bring_back(**asked, scale_g=5).nearest
    assert "cannot become 175 g" in coarse.reason
    assert near.change == "With a scale that reads to 1 g."
    assert list(near.feeds["seed_g"]) == list(bring_back(**asked, scale_g=1).feeds["seed_g"])
    late = bring_back(**asked | {"mix_at": "2026-05-15T22:00+02:00"}, scale_g=5).nearest
    assert late.change.startswith("With a scale that reads to 1 g. Dough at ")
    assert bring_back(**asked | {"jar_g": 5.5}).nearest is None


def test_search_and_brute_force_agree_that_a_jar_is_too_small():
    setting = bring_back(**household(3) | {"jar_g": 53.0, "scale_g": 5.0}).setting
    problem = setting.problem(kitchen=setting.kitchen(setting.draws), draws=setting.draws)
    assert search(problem) is None
    assert np.isinf([cheapest(problem, feeds=feeds, slots=problem.slots[::4]) for feeds in (1, 2)]).all()
    assert np.isinf(cost_g((3.0,), problem))


def test_the_least_seed_binds_on_the_way_too():
    """By hand: 8 g gives 3 g of seed; twice diluted 6 g, less the loss 1 g: under a least seed of 2 g, enough for one of 1 g."""
    logs, wish = np.array([[1.0]]), Wish(ripe_g=50, keep_g=0, loss_g=5, seed_least_g=2, jar_g=8, flour_fraction=0.5)
    assert most_last_seed_g(logs=logs, wish=wish)[0] == -np.inf
    assert most_last_seed_g(logs=logs, wish=Wish(**vars(wish) | {"seed_least_g": 1.0}))[0] == pytest.approx(1.0)


@pytest.mark.parametrize("number", range(20))
def test_no_chain_from_the_old_jar_undercuts_what_its_feeds_must_cost(number):
    """Random dilutions from the least that is allowed on; each row's cost by hand, jar by jar."""
    rng = np.random.default_rng([13, number])
    wish = Wish(
        ripe_g=float(rng.uniform(20, 600)),
        keep_g=float(rng.uniform(0, 60)),
        loss_g=LOSS_G,
        seed_least_g=float(rng.choice([1, 10, 20, 50])),
        jar_g=float(rng.uniform(60, 250)),
        flour_fraction=float(rng.uniform(0.4, 0.7)),
    )
    least = [least_cost_g(feeds=feeds, least_log=LEAST_LOG, wish=wish) for feeds in (1, 2, 3, 4)]
    assert least == sorted(least)
    for feeds, bound in enumerate(least, start=1):
        logs = LEAST_LOG + rng.exponential(0.7, (200, feeds))
        logs[0] = LEAST_LOG
        fits = grams(logs=logs, wish=wish).seed[:, 0] <= wish.most_seed_g
        assert all(cost_g(tuple(row), SimpleNamespace(wish=wish)) >= bound - 1e-9 for row in logs[fits])


def test_what_a_coarse_scale_must_leave_over_rules_out_more_feeds_unseen():
    asked = {"home_at": "2026-10-23T18:00+02:00", "mix_at": "2026-10-25T18:00+01:00", "days_held": 2, "scale_g": 5}
    setting = bring_back(**asked, places={"kitchen": 22, "warm box": 28}).setting
    problem = setting.problem(kitchen=setting.kitchen(setting.draws), draws=setting.draws)
    assert len(search(problem).at) == 2
    assert {feeds for _, feeds in problem.begun} == {1, 2}
