"""The search against brute force with the same draws: it finds the optimum, with and without trips to the cold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.plans.brute import cheapest
from tests.plans.cases import EVENINGS, SEARCHED, commit_of_plans, household, recorded, written

from fallow.plans.bring_back import bring_back
from fallow.plans.search import search

FILE = "plan_optimum.json"


def question(number: int, **more):
    """Return the search's own question of a random household, its first mix taken as warm."""
    setting = replace(bring_back(**household(number, **more)).setting, size=256)
    draws = setting.draws
    return setting.problem(kitchen=setting.kitchen(draws), draws=draws)


def by_day(number: int) -> tuple[float, float]:
    """Return cost of the search and of brute force with one and with two feeds; inf where nothing is ready often enough."""
    problem = question(number)
    found = search(problem)
    brute = min(cheapest(problem, feeds=feeds) for feeds in (1, 2))
    return (np.inf if found is None else found.cost_g), brute


def in_the_evening(number: int) -> tuple[float, float]:
    """Return the same where somebody is there in the evening only, with trips to the cold; brute force by the whole hour."""
    problem = question(number, awake=(EVENINGS,), hours=(36, 52))
    found = search(problem)
    brute = min(cheapest(problem, feeds=feeds, slots=problem.slots[::2], trips=True) for feeds in (1, 2))
    return (np.inf if found is None else found.cost_g), brute


def never_worse(compared, numbers) -> tuple[int, float]:
    """Return in how many households both found a plan, and the worst cost of the search over brute force's."""
    worst, both = 0.0, 0
    for number in numbers:
        ours, brute = compared(number)
        assert not (np.isfinite(brute) and np.isinf(ours)), number
        if np.isfinite(brute):
            both, worst = both + 1, max(worst, ours / brute)
            assert ours <= 1.01 * brute, (number, ours, brute)
    return both, worst


def test_the_search_is_never_more_than_one_percent_worse_than_brute_force():
    both, _ = never_worse(by_day, range(10))
    assert both >= 5


def test_nor_where_a_feed_must_wait_in_the_cold():
    both, _ = never_worse(in_the_evening, range(2, 6))
    assert both >= 3


def test_the_long_run_on_record_was_never_worse(reference):
    table = recorded(reference(FILE)).set_index("what")
    assert table.loc["by day", "households"] >= 200
    assert (table["worst_over_brute_force"] <= 1.01).all()


@pytest.mark.long
def test_the_search_is_never_worse_than_brute_force_in_two_hundred_households(root: Path):
    commit, rows = commit_of_plans(), []
    for what, compared, count in (("by day", by_day, 200), ("in the evening, with trips", in_the_evening, 40)):
        both, worst = never_worse(compared, range(count))
        asked = {"what": what, "households": count, "seed": SEARCHED}
        rows.append({"id": what, "in": asked, "out": {"with_a_plan": both, "worst_over_brute_force": round(worst, 5)}})
    title = "What the plans' search costs at worst over brute force, flour plus discard (and 100 g a trip), as a ratio"
    path = root / "tests" / "reference" / FILE
    written(path, title=title, test="tests/plans/test_search.py", rows=rows, commit=commit)


def test_three_feeds_are_found_when_the_jar_is_small_and_the_wish_large():
    """Brute force over three feeds on a coarser grid: every three hours, every half doubling."""
    setting = bring_back(
        home_at="2026-05-15T08:00+02:00",
        mix_at="2026-05-17T08:00+02:00",
        places={"kitchen": 25},
        ripe_g=3000,
        jar_g=15,
        chance=0.8,
        days_held=60,
    ).setting
    draws = setting.draws
    problem = setting.problem(kitchen=setting.kitchen(draws), draws=draws)
    found = search(problem)
    coarse = problem.slots[::6]
    brute = [cheapest(problem, feeds=n, slots=coarse, logs=np.arange(np.log2(3), 7, 0.5)) for n in (1, 2, 3)]
    assert np.isinf(brute[:2]).all()
    assert np.isfinite(brute[2])
    assert found is not None
    assert len(found.at) == 3
    assert found.cost_g <= 1.01 * brute[2]
