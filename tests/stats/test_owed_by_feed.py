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

DEBTS = {"a": [2.4, 1.0, 0.1], "b": [2.0, 0.9], "c": [1.7, 0.3], "d": [2.2], "e": [1.2, 0.1]}

# Fed in the evening and found flat in the morning, on the ledger's scale.
NIGHT = {"earned_low": 0.0, "earned_high": 8.0}


def test_debts_chosen_by_hand_are_found_again(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    for name, owed in DEBTS.items():
        made.jar(name, owed)
    fit = fit_cold(made.trial)
    table = owed_by_feed(fit)
    assert table["feed"].tolist() == [1, 2, 3]
    assert table["jars"].tolist() == [5, 4, 1]
    assert table["pairs"].tolist() == [4, 1, 0]
    for row, feed in zip(table.head(2).itertuples(), range(2), strict=True):
        truth = np.mean([owed[feed] for owed in DEBTS.values() if len(owed) > feed])
        assert row.owed_doublings == pytest.approx(truth, abs=0.15)
        assert row.owed_low < truth < row.owed_high
    # scipy's paired t test on the same jars, whose looks are a tenth of an hour apart
    wide = fit.feeds.pivot_table(index="jar", columns="feed", values="owed_doublings").dropna(subset=[1, 2])
    low, high = ttest_rel(wide[1], wide[2]).confidence_interval(0.9)
    assert (table["fell_low"].iloc[0], table["fell_high"].iloc[0]) == pytest.approx((low, high), abs=0.03)
    # one jar, and one pair, tell no spread
    assert table[["fell_doublings", "fell_low", "fell_high"]].iloc[1:].isna().all(axis=None)
    assert table[["owed_doublings", "owed_low", "owed_high"]].iloc[2:].isna().all(axis=None)


def test_a_debt_shared_by_all_moves_the_mean_and_not_the_fall(harbour_rota: Experiment) -> None:
    fit = fit_cold(harbour_rota)
    more = fit.feeds.assign(cost_doublings=fit.feeds["cost_doublings"] - 1.0)
    before, after = owed_by_feed(fit), owed_by_feed(replace(fit, feeds=more))
    moved = (after["owed_doublings"] - before["owed_doublings"]).dropna()
    assert len(moved) >= 5
    assert moved.to_numpy() == pytest.approx(1.0, abs=1e-4)
    assert after["fell_doublings"].to_numpy() == pytest.approx(before["fell_doublings"].to_numpy(), nan_ok=True)
    assert before["fell_low"].iloc[0] > 0


def test_peaks_slept_through_lean_to_neither_side(kitchen: Callable[..., Any]) -> None:
    """Of every third jar only the morning after is known: its peak may have been at any hour of the night."""
    made = kitchen()
    debts = np.random.default_rng(3).normal(1.5, 0.5, 30)
    for number, owed in enumerate(debts):
        made.jar(f"j{number}", [float(owed)])
    fit = fit_cold(made.trial)
    awake = fit.feeds.index % 3 > 0
    slept = fit.feeds.assign(**{end: fit.feeds[end].where(awake, at) for end, at in NIGHT.items()})
    close, wide = (owed_by_feed(one).iloc[0] for one in (fit, replace(fit, feeds=slept)))
    for row in (close, wide):
        assert row["owed_low"] < debts.mean() < row["owed_high"]
    assert wide["owed_doublings"] == pytest.approx(close["owed_doublings"], abs=0.1)
    assert wide["owed_high"] - wide["owed_low"] > close["owed_high"] - close["owed_low"]


def test_looks_that_one_number_fits_between_tell_nothing(kitchen: Callable[..., Any]) -> None:
    made = kitchen(look_hours=6.0)
    for number in range(4):
        made.jar(f"j{number}", [1.0 + number / 10])
    row = owed_by_feed(fit_cold(made.trial)).iloc[0]
    assert row["jars"] == 4
    assert np.isnan(row["owed_doublings"])


def test_without_a_clock_nothing_is_told(kitchen: Callable[..., Any]) -> None:
    made = kitchen(baselines=2)
    made.jar("a", [2.0, 0.5])
    assert owed_by_feed(fit_cold(made.trial)).empty
