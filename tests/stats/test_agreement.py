"""Ledger against counts: exact binomial ends, no verdict from few jars, fixed debt told from memoryless when it is plain."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

from fallow.stats.agreement import agreement


def jars(feeds: np.ndarray, *, cap: int = 6) -> pd.DataFrame:
    back = feeds <= cap
    names = [f"j{i}" for i in range(len(feeds))]
    seen = np.where(back, feeds, cap)
    return pd.DataFrame({
        "jar": names, "recovered": back, "feeds_to_recovery": np.where(back, feeds, np.nan), "feeds_observed": seen,
    })  # fmt: skip


def said(names: pd.Series, chances: np.ndarray) -> pd.DataFrame:
    rows = [(jar, feed, chance) for jar in names for feed, chance in enumerate(chances, start=1)]
    return pd.DataFrame(rows, columns=["jar", "feed", "chance"])


def test_a_group_has_the_exact_binomial_interval() -> None:
    table = jars(np.array([2] * 7 + [4] * 23))
    found = agreement(table, said(table["jar"], np.array([0.1, 0.4, 0.7, 0.9, 1, 1])))
    row = found.by_forecast.iloc[0]
    wanted = binomtest(7, 30).proportion_ci(0.9, method="exact")
    assert (row["jars"], row["observed"], row["expected"]) == (30, 7, pytest.approx(12))
    assert (row["low"] + 0.4, row["high"] + 0.4) == (pytest.approx(wanted.low), pytest.approx(wanted.high))
    assert found.worst_gap is not None
    assert "7 of 30 jars where the ledger said 12.0: a gap of -1.7 jars of 10 (-" in found.says


def test_no_verdict_below_twenty_jars() -> None:
    table = jars(np.array([2, 3, 2]))
    found = agreement(table, said(table["jar"], np.array([0.1, 0.4, 0.7, 0.9, 1, 1])))
    assert found.worst_gap is None
    assert found.says == "3 jars so far: too few to say if ledger and counts agree; 20 are needed."
    assert found.says_kind == "Fixed debt or memoryless: undecided."


def test_with_no_jar_to_compare_it_says_so() -> None:
    table = jars(np.array([2, 3, 2]))
    found = agreement(table, said(table["jar"] + "x", np.array([0.3, 0.6, 0.9])))
    assert found.says == "No jar has both a forecast and an outcome by then, so there is nothing to compare."


@pytest.mark.parametrize(("count", "start"), [(1, "1 jar so far"), (2, "2 jars so far")])
def test_one_and_two_are_said_as_a_reader_would(count: int, start: str) -> None:
    table = jars(np.array([2, 3][:count]))
    chances = said(table["jar"], np.array([0.1, 0.4, 0.7, 0.9, 1, 1]))
    assert agreement(table, chances).says.startswith(f"{start}: too few")


def test_a_jar_lost_before_the_feed_does_not_count() -> None:
    table = jars(np.array([2] * 25))
    table.loc[0, ["recovered", "feeds_to_recovery", "feeds_observed"]] = [False, np.nan, 1]
    assert agreement(table, said(table["jar"], np.array([0.1, 0.9, 1.0]))).by_forecast["jars"].sum() == 24


def test_a_debt_and_a_coin_are_told_apart_and_little_is_undecided() -> None:
    steady = np.array([0.02, 0.1, 0.9, 0.97, 1, 1])
    debt = jars(np.array([3] * 36 + [4] * 4))
    assert "looks like a debt" in agreement(debt, said(debt["jar"], steady)).says_kind
    coin = jars(np.random.default_rng(3).geometric(0.4, 120))
    assert "same chance at every feed" in agreement(coin, said(coin["jar"], steady)).says_kind
    evenly = 1 - 0.6 ** np.arange(1, 7)
    assert "undecided" in agreement(coin, said(coin["jar"], evenly)).says_kind
