"""Do 90 % intervals hold the truth nine times in ten? A short run here, the long run's results read and judged."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, chisquare

from fallow.stats.coverage import TRUTHS, covariates, coverage, coverage_table, seen_chances, targets, trial
from fallow.stats.recovery import fit_recovery, risk_table

Reference = Callable[[str], dict[str, Any]]
BY_NAME = {(truth.name, truth.waking): truth for truth in TRUTHS}


def test_there_are_six_truths_of_three_shapes_with_and_without_hidden_nights() -> None:
    assert {name for name, _ in BY_NAME} == {"constant", "rising", "near-deterministic"}
    assert len(BY_NAME) == 6


@pytest.mark.parametrize("truth", TRUTHS, ids=lambda truth: f"{truth.name}-{truth.waking}")
def test_trials_are_drawn_from_the_truth_they_claim(truth: Any) -> None:
    rng = np.random.default_rng(7)
    feeds = np.concatenate([trial(truth, 6, rng)["feeds_to_recovery"].to_numpy()[[2]] for _ in range(1500)])
    expected = seen_chances(truth, covariates(6)).mean(axis=0)[2]
    expected = np.append(expected[:4], 1 - expected[:4].sum())
    observed = [*(np.sum(feeds == k) for k in range(1, 5)), np.sum(~(feeds <= 4))]
    assert chisquare(observed, 1500 * expected).pvalue > 1e-4


def test_a_hidden_night_moves_recoveries_later_and_loses_none_before_the_last() -> None:
    for name in ("constant", "rising", "near-deterministic"):
        open_, hidden = (seen_chances(BY_NAME[name, waking], covariates(6)).mean(axis=0) for waking in (False, True))
        assert (np.cumsum(hidden, axis=1) <= np.cumsum(open_, axis=1) + 1e-12).all()
        assert np.cumsum(hidden, axis=1)[:, 0] == pytest.approx(0.7 * open_[:, 0])  # half the jars see 0.4 of feed 1


@pytest.mark.parametrize("truth", TRUTHS, ids=lambda truth: f"{truth.name}-{truth.waking}")
def test_what_intervals_should_hold_is_what_a_huge_trial_shows(truth: Any) -> None:
    table = risk_table(trial(truth, 120_000, np.random.default_rng(3)))
    fit = fit_recovery(table, "C(feed) + rye_fraction + np.log1p(days_held)", jeffreys=False).coefficients
    wanted = targets(truth)
    for name in ("rye_fraction", "np.log1p(days_held)"):
        assert abs(fit.loc[name, "estimate"] - wanted[name]) < 4 * fit.loc[name, "se"]
    typical = table[(table["rye_fraction"] == 0) & (table["days_held"] == 21)]
    jars, ready = typical["jar"].nunique(), typical["recovered"][typical["feed"] <= 2].sum()
    assert abs(ready / jars + np.expm1(-np.exp(wanted["ready by feed 2"]))) < 4 * np.sqrt(0.25 / jars)


@pytest.mark.parametrize(("name", "waking", "jars"), [("rising", True, 24), ("constant", False, 6)])
def test_a_short_run_covers_nine_in_ten(name: str, waking: bool, jars: int) -> None:
    """Fewer hits in 60 than a coverage of 0.9 (0.82 from six jars) would show once in ten thousand runs fail."""
    found = coverage(BY_NAME[name, waking], jars=jars, simulations=60, seed=11)
    least = binom.ppf(1e-4, 60, 0.9 if jars == 24 else 0.82) / 60
    assert (found["covered"] >= least).all()
    assert found["what"].tolist() == ["rye_fraction", "np.log1p(days_held)", "ready by feed 2"]


def judged(table: pd.DataFrame) -> None:
    """Hold a table of coverages against what intervals from 6, 24 and 96 jars must do; bias has a test of its own."""
    by_jars = table.groupby("jars")["covered"].agg(["mean", "min", "max"])
    assert by_jars.loc[96, "min"] >= 0.86
    assert by_jars.loc[96, "max"] <= 0.94
    assert 0.87 <= by_jars.loc[24, "mean"] <= 0.93
    assert by_jars.loc[24, "min"] >= 0.82
    assert 0.85 <= by_jars.loc[6, "mean"] <= 0.95
    assert by_jars.loc[6, "min"] >= 0.75


def on_record(reference: Reference) -> pd.DataFrame:
    return pd.DataFrame([{**row["in"], **row["out"]} for row in reference("coverage.json")["rows"]])


def test_the_long_run_on_record_covers_as_it_must(reference: Reference) -> None:
    table = on_record(reference)
    assert len(table) == 6 * 3 * 3
    assert (table["simulations"] >= 1000).all()
    judged(table)


@pytest.mark.long
def test_bias_at_24_jars_is_below_015_of_a_standard_error(reference: Reference) -> None:
    """Not met, and left to fail in the long run until it is: four of 18 cells on record reach 0.16 to 0.20.

    The likely cause: the Jeffreys penalty takes out bias of the first order for the logit only.
    """
    table = on_record(reference)
    beyond = table[(table["jars"] == 24) & ~(table["bias"].abs() < 0.15)]
    assert beyond.empty, beyond.to_string()


@pytest.mark.long
def test_a_thousand_trials_a_cell(root: Path) -> None:
    table = coverage_table(sizes=(6, 24, 96), simulations=1000, seed=2024)
    given, told = ["truth", "waking", "jars", "what", "simulations"], ["covered", "covered_se", "bias"]
    rows = [
        {
            "id": f"{row['truth']}, {'waking looks' if row['waking'] else 'every look'}, {row['jars']} jars: {row['what']}",
            "in": {name: row[name] for name in given},
            "out": {name: round(row[name], 4) for name in told},
        }
        for row in table.to_dict("records")
    ]
    head = {
        "title": "How often 90 % intervals hold a known truth",
        "source": "own simulation (fallow.stats.coverage), 1000 invented trials a cell; written by python3 tests --long",
        "tag": "computed",
        "tolerance": {"abs": 0.0},
        "model": None,
        "test": "tests/stats/test_coverage.py",
        "rows": rows,
    }
    text = json.dumps(head, indent=2) + "\n"
    (root / "tests" / "reference" / "coverage.json").write_text(text, encoding="utf-8")
    judged(table)
