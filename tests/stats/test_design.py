"""Plans: balance, orders by chance that no machine changes, and storage trials run either way round."""

from __future__ import annotations

import hashlib
from collections import Counter
from datetime import date, timedelta

import pytest
from scipy.stats import chisquare

from fallow.stats.design import bring_back_together, plan_trial, put_away_together

FOUR = ["white", "rye", "warm", "rye and warm"]


def test_every_treatment_once_in_every_block() -> None:
    plan = plan_trial(treatments=FOUR, blocks=6)
    assert plan.columns.tolist() == ["jar", "block", "position", "treatment"]
    assert plan["jar"].is_unique
    for _, block in plan.groupby("block"):
        assert sorted(block["treatment"]) == sorted(FOUR)
        assert block["position"].tolist() == [1, 2, 3, 4]


def test_the_order_is_sha256s_and_so_the_same_everywhere() -> None:
    plan = plan_trial(treatments=FOUR, blocks=2, seed=7)
    wanted = [
        FOUR[i]
        for block in (1, 2)
        for i in sorted(range(4), key=lambda i: hashlib.sha256(f"7/{block}/{i}".encode()).hexdigest())
    ]
    assert plan["treatment"].tolist() == wanted
    # written down once, so that a change of the rule shows
    assert plan["treatment"].tolist() == [
        "rye and warm",
        "white",
        "rye",
        "warm",
        "warm",
        "rye",
        "white",
        "rye and warm",
    ]


def test_another_seed_is_another_order() -> None:
    plans = {tuple(plan_trial(treatments=FOUR, seed=seed)["treatment"]) for seed in range(20)}
    assert len(plans) == 20


def test_all_six_orders_of_two_and_two_are_equally_common() -> None:
    counted = Counter(
        tuple(plan_trial(treatments=["a", "a", "b", "b"], blocks=1, seed=seed)["treatment"]) for seed in range(600)
    )
    assert len(counted) == 6
    assert chisquare(list(counted.values())).pvalue > 1e-3


def test_put_away_together_come_back_on_different_days() -> None:
    plan = put_away_together(days_held=[7, 21, 42], on=date(2026, 12, 1), blocks=2)
    table = plan.table
    assert set(table["put_away_on"]) == {date(2026, 12, 1)}
    assert [out - put for out, put in zip(table["out_on"], table["put_away_on"], strict=True)] == [
        timedelta(days=days) for days in table["days_held"]
    ]
    assert "recovery day" in plan.confounds


def test_the_reversed_plan_brings_all_back_on_one_day() -> None:
    plan = bring_back_together(days_held=[7, 21, 42], on=date(2026, 12, 24), blocks=2)
    table = plan.table
    assert set(table["out_on"]) == {date(2026, 12, 24)}
    assert sorted({put.isoformat() for put in table["put_away_on"]}) == ["2026-11-12", "2026-12-03", "2026-12-17"]
    assert "batch" in plan.confounds
    other = put_away_together(days_held=[7, 21, 42], on=date(2026, 12, 1), blocks=2)
    assert other.table["treatment"].tolist() == table["treatment"].tolist()


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="a comparison needs two names"):
        plan_trial(treatments=["only"])
    with pytest.raises(ValueError, match="blocks is 0"):
        plan_trial(treatments=FOUR, blocks=0)
    with pytest.raises(ValueError, match="days_held holds -1"):
        bring_back_together(days_held=[7, -1], on=date(2026, 12, 24))
