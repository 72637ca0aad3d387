"""A plan for a culture whose ripe feeds leave a share of the debt: as many feeds as that takes, by the ledger with the share."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit
from tests.plans.brute import cheapest
from tests.plans.cases import household, truths

from fallow.plans.bring_back import bring_back
from fallow.plans.draws import Carried, Culture
from fallow.plans.fitted import carried_over
from fallow.plans.look import stands_at
from fallow.plans.replan import replan
from fallow.plans.search import MOST_FEEDS_CARRIED, fewest_feeds, search
from fallow.records.experiment import Experiment
from fallow.stats.carried import by_rye
from fallow.stats.cold import fit_cold

THIRD = Carried(middle_logit=-0.8, sd_logit=0.35)
PLACES = {"kitchen": 22, "warm box": 28}


def usual(*, carried: Carried | None = THIRD, **changes):
    asked = {"home_at": "2026-05-15T19:00+02:00", "mix_at": "2026-05-18T09:00+02:00", "places": PLACES, **changes}
    return bring_back(culture=Culture(carried=carried), **asked)


def question(number: int):
    """Return the question of a random household that keeps a tenth of its debt over a feed: two feeds may do."""
    told = household(number)
    plan = bring_back(
        **told | {"chance": min(told["chance"], 0.75)}, culture=Culture(carried=replace(THIRD, middle_logit=-2.2))
    )
    setting = replace(plan.setting, size=256)
    return setting.problem(kitchen=setting.kitchen(setting.draws), draws=setting.draws)


def test_a_debt_that_is_carried_takes_more_feeds_and_the_plan_says_how_many():
    plain, third, half = (usual(carried=carried) for carried in (None, THIRD, replace(THIRD, middle_logit=0.25)))
    assert len(plain.feeds) < len(third.feeds) < len(half.feeds)
    for plan in (plain, third, half):
        assert plan.reason == ""
        assert plan.ready_chance >= 0.9
        owed = np.median(plan.result.owed, axis=1)
        assert (np.diff(owed) < 0).all()


@pytest.mark.parametrize("days_held", [10, 40])
def test_its_chance_is_that_of_truths_drawn_through_the_ledger(days_held):
    plan = usual(days_held=days_held)
    true = truths(plan=plan, count=4000, seed=[5, days_held])
    assert abs(true.mean() - plan.ready_chance) <= 3 * np.sqrt(0.25 / 4000)


def test_the_search_is_never_more_than_one_percent_worse_than_brute_force():
    found = 0
    for number in range(8):
        problem = replace(question(number), most_feeds=2)
        assert problem.carried.min() > 0
        ours, brute = search(problem), min(cheapest(problem, feeds=feeds) for feeds in (1, 2))
        assert (ours is None) == bool(np.isinf(brute))
        if ours is not None:
            assert ours.cost_g <= 1.01 * brute
            found += 1
    assert found >= 3


def test_no_chain_of_fewer_feeds_than_the_fewest_is_ready():
    for number in range(6):
        problem = question(number)
        fewest = fewest_feeds(problem, chance=problem.chance)
        for feeds in range(1, min(fewest, 3)):
            assert np.isinf(cheapest(problem, feeds=feeds))
    everything = replace(question(0), carried=np.ones(256))
    assert fewest_feeds(everything, chance=0.9) == MOST_FEEDS_CARRIED + 1
    assert search(everything) is None


def test_a_feed_that_stands_carries_its_share_on():
    plan = usual()
    now = plan.feeds["at"].iloc[0] + pd.Timedelta(hours=6)
    again = replan(plan, look_at=now, height=80, start_height=50)
    source = again.course.source
    owed = source.owed(np.array([200.0]))[0]
    share = again.course.draws.carried
    assert share.min() > 0
    assert owed == pytest.approx(share * source.owed_then, abs=1e-5)
    assert stands_at(plan, now=6.0 + plan.steps[0].at) is not None


def test_a_culture_without_a_record_of_it_keeps_its_draws():
    with_share, without = usual().setting.draws, usual(carried=None).setting.draws
    assert (without.carried == 0).all()
    for name in ("pace", "ripening", "owed", "chill", "offsets_c"):
        assert (getattr(with_share, name) == getattr(without, name)).all()
    assert np.quantile(with_share.carried, [0.05, 0.5, 0.95]) == pytest.approx(THIRD.interval, abs=0.005)


def test_the_share_on_record_is_drawn_as_the_fit_has_it(root: Path):
    fit = fit_cold(Experiment.open(root / "experiments" / "harbour-rota"))
    for share in by_rye(fit).values():
        drawn = share.draws(size=400, jars=64).ravel()
        low, middle, high = carried_over(share).interval
        assert (low, middle, high) == pytest.approx(np.quantile(drawn, [0.05, 0.5, 0.95]), abs=0.03)
        assert middle == pytest.approx(float(np.median(expit(share.middle_logit))), abs=0.02)
