"""How W falls from feed to feed: debts chosen by hand found again, and c cancelling in the fall."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import ttest_rel

from fallow.records.experiment import Experiment
from fallow.stats.cold import fit_cold
from fallow.stats.owed_by_feed import owed_by_feed

DEBTS = {"a": [2.4, 1.0, 0.1], "b": [2.0, 0.9], "c": [1.7, 0.3], "d": [2.2]}


def test_debts_chosen_by_hand_are_found_again(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    for name, owed in DEBTS.items():
        made.jar(name, owed)
    fit = fit_cold(made.trial)
    table = owed_by_feed(fit)
    assert table["feed"].tolist() == [1, 2, 3]
    assert table["jars"].tolist() == [4, 3, 1]
    assert table["pairs"].tolist() == [3, 1, 0]
    for row, feed in zip(table.itertuples(), range(3), strict=True):
        truth = np.mean([owed[feed] for owed in DEBTS.values() if len(owed) > feed])
        assert row.owed_doublings == pytest.approx(truth, abs=0.15)
        assert row.owed_low < truth < row.owed_high
    # scipy's paired t test on the same jars
    wide = fit.feeds.pivot_table(index="jar", columns="feed", values="owed_doublings").dropna(subset=[1, 2])
    low, high = ttest_rel(wide[1], wide[2]).confidence_interval(0.9)
    assert (table["fell_low"].iloc[0], table["fell_high"].iloc[0]) == pytest.approx((low, high))
    assert table[["fell_doublings", "fell_low", "fell_high"]].iloc[1:].isna().all(axis=None)


def test_a_debt_shared_by_all_moves_the_mean_and_not_the_fall(harbour_rota: Experiment) -> None:
    fit = fit_cold(harbour_rota)
    more = fit.feeds.assign(owed_doublings=fit.feeds["owed_doublings"] + 1.0)
    before, after = owed_by_feed(fit), owed_by_feed(replace(fit, feeds=more))
    assert (after["owed_doublings"] - before["owed_doublings"]).dropna().to_numpy() == pytest.approx(1.0)
    assert after["fell_doublings"].to_numpy() == pytest.approx(before["fell_doublings"].to_numpy(), nan_ok=True)
    assert before["fell_low"].iloc[0] > 0


def test_without_a_clock_nothing_is_told(kitchen: Callable[..., Any]) -> None:
    made = kitchen(baselines=2)
    made.jar("a", [2.0, 0.5])
    assert owed_by_feed(fit_cold(made.trial)).empty
